// Package tokens issues and reads the access tokens of the API: JSON Web Tokens by the good practice of RFC 8725,
// signed with HMAC SHA-256. A token says who is asking, never what they may do; that is read from the records on
// every request.
package tokens

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"github.com/google/uuid"
)

// Audience is whom our tokens are meant for.
const Audience = "palmero-api"

// MinSecret is the shortest signing secret in bytes: the length of the hash, as RFC 7518 section 3.2 requires.
const MinSecret = 32

const (
	tokenType = "at+jwt"
	leeway    = 30 * time.Second
	maxToken  = 2048 // bytes; ours have about 500
)

// What Parse says. A client whose token has expired refreshes it; any other refusal means signing in again.
var (
	ErrExpired = errors.New("the access token has expired")
	ErrRefused = errors.New("the access token is not valid")
)

// Claims is what a token says: which account of which employer is asking, in which session.
type Claims struct {
	Account  uuid.UUID
	Employer uuid.UUID
	Session  uuid.UUID
}

// Key is a signing secret and the name that tokens know it by.
type Key struct {
	ID     string
	Secret []byte
}

// Keys are the key that signs, and the one before it, if any, whose tokens are still taken.
type Keys struct {
	Current  Key
	Previous *Key
}

// Check says what is wrong with the keys: a missing name, a secret shorter than [MinSecret], one name for both.
func (k Keys) Check() error {
	err := k.Current.check("the signing key")
	if k.Previous == nil {
		return err
	}
	if k.Previous.ID == k.Current.ID {
		err = errors.Join(err, errors.New("the signing key and the previous one have the same id"))
	}
	return errors.Join(err, k.Previous.check("the previous signing key"))
}

func (k Key) check(what string) error {
	if k.ID == "" {
		return fmt.Errorf("%s has no id", what)
	}
	if len(k.Secret) < MinSecret {
		return fmt.Errorf("%s has a secret of %d bytes, and needs %d at least", what, len(k.Secret), MinSecret)
	}
	return nil
}

// Issuer makes and reads tokens. It may be used by several goroutines at once.
type Issuer struct {
	keys     Keys
	name     string
	lifetime time.Duration
	now      func() time.Time
	parser   *jwt.Parser
}

// NewIssuer refuses keys that do not pass [Keys.Check], an empty issuer name, and a lifetime that is not positive.
func NewIssuer(keys Keys, issuer string, lifetime time.Duration, now func() time.Time) (*Issuer, error) {
	err := keys.Check()
	if issuer == "" {
		err = errors.Join(err, errors.New("tokens need the name of their issuer"))
	}
	if lifetime <= 0 {
		err = errors.Join(err, errors.New("tokens need a lifetime"))
	}
	if err != nil {
		return nil, err
	}
	parser := jwt.NewParser(
		jwt.WithValidMethods([]string{jwt.SigningMethodHS256.Alg()}),
		jwt.WithIssuer(issuer), jwt.WithAudience(Audience),
		jwt.WithExpirationRequired(), jwt.WithNotBeforeRequired(), jwt.WithIssuedAt(),
		jwt.WithLeeway(leeway), jwt.WithTimeFunc(now), jwt.WithStrictDecoding(),
	)
	return &Issuer{keys, issuer, lifetime, now, parser}, nil
}

// body is the form of the claims within a token.
type body struct {
	jwt.RegisteredClaims
	Employer string `json:"employer"`
	Session  string `json:"session"`
}

// Issue makes a token that says these claims until it expires.
func (i *Issuer) Issue(claims Claims) (token string, expires time.Time, err error) {
	id, err := uuid.NewV7()
	if err != nil {
		return "", time.Time{}, err
	}
	now := i.now().Truncate(time.Second)
	expires = now.Add(i.lifetime)
	unsigned := jwt.NewWithClaims(jwt.SigningMethodHS256, body{
		RegisteredClaims: jwt.RegisteredClaims{
			ID: id.String(), Issuer: i.name, Subject: claims.Account.String(), Audience: jwt.ClaimStrings{Audience},
			IssuedAt: jwt.NewNumericDate(now), NotBefore: jwt.NewNumericDate(now), ExpiresAt: jwt.NewNumericDate(expires),
		},
		Employer: claims.Employer.String(),
		Session:  claims.Session.String(),
	})
	unsigned.Header["typ"] = tokenType
	unsigned.Header["kid"] = i.keys.Current.ID
	token, err = unsigned.SignedString(i.keys.Current.Secret)
	return token, expires, err
}

// Parse reads a token that this issuer, or one with the same name and keys, has made and that is in force now. The
// error is [ErrExpired] or [ErrRefused]; the reason that it wraps is for the log.
func (i *Issuer) Parse(token string) (Claims, error) {
	if len(token) > maxToken {
		return Claims{}, fmt.Errorf("%w: it has %d bytes", ErrRefused, len(token))
	}
	if strings.ContainsAny(token, "\r\n") { // which the base64 decoder would overlook
		return Claims{}, fmt.Errorf("%w: it has more than one line", ErrRefused)
	}
	var said body
	_, err := i.parser.ParseWithClaims(token, &said, i.secretOf)
	if errors.Is(err, jwt.ErrTokenExpired) {
		return Claims{}, fmt.Errorf("%w: %w", ErrExpired, err)
	}
	if err != nil {
		return Claims{}, fmt.Errorf("%w: %w", ErrRefused, err)
	}
	return said.claims()
}

// secretOf finds the secret that a token must be signed with. It takes the three headers that we write and no other, so that
// nothing in a token can ask for something that is then ignored (RFC 7515 section 4.1.11).
func (i *Issuer) secretOf(token *jwt.Token) (any, error) {
	if len(token.Header) != 3 || token.Header["typ"] != tokenType {
		return nil, errors.New("its header is not that of an access token")
	}
	switch kid := token.Header["kid"]; {
	case kid == i.keys.Current.ID:
		return i.keys.Current.Secret, nil
	case i.keys.Previous != nil && kid == i.keys.Previous.ID:
		return i.keys.Previous.Secret, nil
	}
	return nil, errors.New("it is signed with a key that is not in use")
}

func (b body) claims() (Claims, error) {
	account, errAccount := uuid.Parse(b.Subject)
	employer, errEmployer := uuid.Parse(b.Employer)
	session, errSession := uuid.Parse(b.Session)
	if err := errors.Join(errAccount, errEmployer, errSession); err != nil {
		return Claims{}, fmt.Errorf("%w: %w", ErrRefused, err)
	}
	return Claims{account, employer, session}, nil
}
