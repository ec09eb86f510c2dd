package tokens

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"github.com/google/uuid"
)

var (
	start   = time.Date(2026, 3, 2, 6, 30, 0, 0, time.UTC)
	oldKey  = Key{"2025", bytes.Repeat([]byte("o"), MinSecret)}
	newKey  = Key{"2026", bytes.Repeat([]byte("n"), MinSecret)}
	someone = Claims{uuid.Must(uuid.NewV7()), uuid.Must(uuid.NewV7()), uuid.Must(uuid.NewV7())}
)

const name = "https://palmero.example"

func issuer(t testing.TB, keys Keys, now time.Time) *Issuer {
	t.Helper()
	i, err := NewIssuer(keys, name, 10*time.Minute, func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	return i
}

func issued(t testing.TB, keys Keys) string {
	t.Helper()
	token, expires, err := issuer(t, keys, start).Issue(someone)
	if err != nil {
		t.Fatal(err)
	}
	if want := start.Add(10 * time.Minute); !expires.Equal(want) {
		t.Errorf("expires %v, want %v", expires, want)
	}
	return token
}

func TestParseTakesWhatIssueMade(t *testing.T) {
	rotated := Keys{newKey, &oldKey}
	tests := []struct {
		name       string
		made, read Keys
		after      time.Duration
		err        error
	}{
		{"at once", Keys{Current: newKey}, Keys{Current: newKey}, 0, nil},
		{"at the last moment", Keys{Current: newKey}, Keys{Current: newKey}, 10*time.Minute + leeway - time.Second, nil},
		{"expired", Keys{Current: newKey}, Keys{Current: newKey}, 10*time.Minute + leeway, ErrExpired},
		{"clock a little behind", Keys{Current: newKey}, Keys{Current: newKey}, -leeway, nil},
		{"before it is in force", Keys{Current: newKey}, Keys{Current: newKey}, -leeway - time.Second, ErrRefused},
		{"after the key was rotated", Keys{Current: oldKey}, rotated, 0, nil},
		{"made with the new key", rotated, rotated, 0, nil},
		{"after the old key was retired", Keys{Current: oldKey}, Keys{Current: newKey}, 0, ErrRefused},
		{"known name, other secret", Keys{Current: Key{newKey.ID, oldKey.Secret}}, Keys{Current: newKey}, 0, ErrRefused},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, err := issuer(t, test.read, start.Add(test.after)).Parse(issued(t, test.made))
			if !errors.Is(err, test.err) {
				t.Fatalf("error %v, want %v", err, test.err)
			}
			if err == nil && got != someone {
				t.Errorf("got %v, want %v", got, someone)
			}
		})
	}
}

// TestParseRefusesForgeries changes one thing about a token that would otherwise be taken, and signs it properly where that is the point.
func TestParseRefusesForgeries(t *testing.T) {
	type parts = map[string]any
	tests := []struct {
		name   string
		method jwt.SigningMethod
		key    any
		change func(header, claims parts)
	}{
		{"unsigned", jwt.SigningMethodNone, jwt.UnsafeAllowNoneSignatureType, nil},
		{"a stronger algorithm", jwt.SigningMethodHS512, newKey.Secret, nil},
		{"another secret", jwt.SigningMethodHS256, bytes.Repeat([]byte("x"), MinSecret), nil},
		{"no key id", nil, nil, func(h, _ parts) { delete(h, "kid"); h["other"] = newKey.ID }},
		{"unknown key id", nil, nil, func(h, _ parts) { h["kid"] = "../../dev/null" }},
		{"key id of another type", nil, nil, func(h, _ parts) { h["kid"] = []string{newKey.ID} }},
		{"plain type", nil, nil, func(h, _ parts) { h["typ"] = "JWT" }},
		{"critical extension", nil, nil, func(h, _ parts) { h["crit"] = []string{"exp"} }},
		{"key in the header", nil, nil, func(h, _ parts) { h["jwk"] = parts{"kty": "oct"} }},
		{"another issuer", nil, nil, func(_, c parts) { c["iss"] = "https://elsewhere.example" }},
		{"no issuer", nil, nil, func(_, c parts) { delete(c, "iss") }},
		{"another audience", nil, nil, func(_, c parts) { c["aud"] = "another" }},
		{"no audience", nil, nil, func(_, c parts) { delete(c, "aud") }},
		{"no expiry", nil, nil, func(_, c parts) { delete(c, "exp") }},
		{"expiry that is no date", nil, nil, func(_, c parts) { c["exp"] = "tomorrow" }},
		{"no beginning", nil, nil, func(_, c parts) { delete(c, "nbf") }},
		{"in force later", nil, nil, func(_, c parts) { c["nbf"] = start.Add(time.Hour).Unix() }},
		{"issued later", nil, nil, func(_, c parts) { c["iat"] = start.Add(time.Hour).Unix() }},
		{"no account", nil, nil, func(_, c parts) { delete(c, "sub") }},
		{"no employer", nil, nil, func(_, c parts) { delete(c, "employer") }},
		{"session that is no id", nil, nil, func(_, c parts) { c["session"] = "1" }},
	}
	reader := issuer(t, Keys{Current: newKey}, start)
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			method, key := test.method, test.key
			if method == nil {
				method, key = jwt.SigningMethodHS256, newKey.Secret
			}
			claims := jwt.MapClaims{
				"iss": name, "aud": Audience, "sub": someone.Account.String(), "employer": someone.Employer.String(),
				"session": someone.Session.String(), "iat": start.Unix(), "nbf": start.Unix(), "exp": start.Add(time.Hour).Unix(),
			}
			token := jwt.NewWithClaims(method, claims)
			token.Header["typ"], token.Header["kid"] = tokenType, newKey.ID
			if test.change == nil {
				requireTaken(t, reader, token)
			} else {
				test.change(token.Header, claims)
			}
			text, err := token.SignedString(key)
			if err != nil {
				t.Fatal(err)
			}
			if got, err := reader.Parse(text); !errors.Is(err, ErrRefused) {
				t.Errorf("got %v, error %v, want it refused", got, err)
			}
		})
	}
}

// requireTaken shows that the token is good but for the way it is signed.
func requireTaken(t *testing.T, reader *Issuer, token *jwt.Token) {
	t.Helper()
	good := jwt.NewWithClaims(jwt.SigningMethodHS256, token.Claims)
	good.Header["typ"], good.Header["kid"] = tokenType, newKey.ID
	text, err := good.SignedString(newKey.Secret)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := reader.Parse(text); err != nil {
		t.Fatalf("the untouched token: %v", err)
	}
}

func TestParseRefusesDamage(t *testing.T) {
	reader := issuer(t, Keys{Current: newKey}, start)
	token := issued(t, Keys{Current: newKey})
	for end := range len(token) {
		if _, err := reader.Parse(token[:end]); !errors.Is(err, ErrRefused) {
			t.Fatalf("cut to %d of %d bytes: %v", end, len(token), err)
		}
	}
	parts := strings.Split(token, ".")
	said, err := base64.RawURLEncoding.DecodeString(parts[1])
	if err != nil {
		t.Fatal(err)
	}
	other := strings.Replace(string(said), someone.Account.String(), uuid.NewString(), 1)
	tampered := parts[0] + "." + base64.RawURLEncoding.EncodeToString([]byte(other)) + "." + parts[2]
	for _, bad := range []string{tampered, token + "=", token + ".", " " + token, token + "\n", strings.Repeat("a", maxToken+1)} {
		if _, err := reader.Parse(bad); !errors.Is(err, ErrRefused) {
			t.Errorf("%.60q…: %v", bad, err)
		}
	}
}

func TestNewIssuerRefusesWeakSettings(t *testing.T) {
	short := Key{"short", make([]byte, MinSecret-1)}
	tests := []struct {
		name     string
		keys     Keys
		issuer   string
		lifetime time.Duration
		say      string
	}{
		{"short secret", Keys{Current: short}, name, time.Minute, "31 bytes"},
		{"short previous secret", Keys{newKey, &short}, name, time.Minute, "previous"},
		{"no key id", Keys{Current: Key{"", newKey.Secret}}, name, time.Minute, "no id"},
		{"one id twice", Keys{newKey, &newKey}, name, time.Minute, "same id"},
		{"no issuer", Keys{Current: newKey}, "", time.Minute, "issuer"},
		{"no lifetime", Keys{Current: newKey}, name, 0, "lifetime"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := NewIssuer(test.keys, test.issuer, test.lifetime, time.Now)
			if err == nil || !strings.Contains(err.Error(), test.say) {
				t.Errorf("error %v, want it to say %q", err, test.say)
			}
		})
	}
}

// FuzzParse throws bytes at the reader; whatever it takes must be signed by us, down to the last byte of the text.
func FuzzParse(f *testing.F) {
	token := issued(f, Keys{Current: newKey})
	reader := issuer(f, Keys{Current: newKey}, start)
	f.Add(token)
	f.Add(token[:len(token)-1])
	f.Add("eyJhbGciOiJub25lIn0.e30.")
	f.Add("..")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := reader.Parse(text)
		if err == nil && text != signed(text[:max(0, strings.LastIndexByte(text, '.'))]) {
			t.Errorf("took %q as %v", text, got)
		}
		if err != nil && !errors.Is(err, ErrRefused) && !errors.Is(err, ErrExpired) {
			t.Errorf("an error of no known kind: %v", err)
		}
	})
}

func signed(content string) string {
	sum := hmac.New(sha256.New, newKey.Secret)
	sum.Write([]byte(content))
	return content + "." + base64.RawURLEncoding.EncodeToString(sum.Sum(nil))
}
