package main

import (
	"bytes"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

const goodSecret = "a-secret-for-tests-of-just-enough-bytes"

func TestSettingsAreReadFromWhereTheyAreGiven(t *testing.T) {
	file := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(file, []byte(goodSecret+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	r := readSettings("serve", byServe,
		[]string{"--listen", ":9000", "--read-timeout=5s", "--token-secret-file", file, "--metrics=false"},
		[]string{"PALMERO_LISTEN=:7000", "PALMERO_IDLE_TIMEOUT=3m", "PALMERO_LOG_LEVEL=WARN", "PALMERO_BODY_LIMIT=512KiB",
			"PALMERO_TRUSTED_PROXIES=10.0.0.0/8, fd00::/8", "PALMERO_DATABASE=", "HOME=/root"})
	if len(r.problems) > 0 {
		t.Fatal(r.problems)
	}
	for _, check := range []struct {
		name      string
		got, want any
	}{
		{"a flag goes before a variable", r.listen, ":9000"},
		{"flag", r.readTimeout, 5 * time.Second},
		{"variable", r.idleTimeout, 3 * time.Minute},
		{"default", r.writeTimeout, 2 * time.Minute},
		{"file", string(r.keys.Current.Secret), goodSecret},
		{"level", r.logLevel, slog.LevelWarn},
		{"size", r.bodyLimit, int64(512 << 10)},
		{"switch", r.metrics, false},
		{"networks", strings.Join(r.trustedProxies, " "), "10.0.0.0/8 fd00::/8"},
	} {
		if check.got != check.want {
			t.Errorf("%s: %v, want %v", check.name, check.got, check.want)
		}
	}
	origins := map[string]string{}
	for _, found := range r.rows {
		origins[found.name] = found.origin
	}
	for name, want := range map[string]string{
		"listen": "--listen", "idle-timeout": "PALMERO_IDLE_TIMEOUT", "database": "default", "token-secret": "--token-secret-file " + file,
	} {
		if origins[name] != want {
			t.Errorf("%s comes from %q, want %q", name, origins[name], want)
		}
	}
}

func TestSettingsProblems(t *testing.T) {
	good := []string{"PALMERO_TOKEN_SECRET=" + goodSecret}
	tests := []struct {
		name          string
		args, environ []string
		want          []string // one for each problem, a part of it
	}{
		{"no secret", nil, nil, []string{"PALMERO_TOKEN_SECRET or --token-secret-file: it is missing"}},
		{"short secret", nil, []string{"PALMERO_TOKEN_SECRET=0123456789012345678901234567890"}, []string{"it has 31 bytes, and needs 32"}},
		{"secret as a flag", []string{"--token-secret", goodSecret}, good, []string{"use --token-secret-file or PALMERO_TOKEN_SECRET"}},
		{"secret twice", nil, append(good, "PALMERO_TOKEN_SECRET_FILE=x"), []string{"PALMERO_TOKEN_SECRET_FILE is given too"}},
		{"no such file", []string{"--token-secret-file=missing"}, nil, []string{"--token-secret-file: open missing"}},
		{"previous secret without name", nil, append(good, "PALMERO_PREVIOUS_TOKEN_SECRET="+goodSecret), []string{"go together"}},
		{"previous name without secret", []string{"--previous-token-key-id=0"}, good, []string{"go together"}},
		{"one name twice", []string{"--previous-token-key-id=1"}, append(good, "PALMERO_PREVIOUS_TOKEN_SECRET="+goodSecret), []string{"new name"}},
		{"empty name", []string{"--token-key-id="}, good, []string{"--token-key-id: it is empty"}},
		{"certificate without key", []string{"--tls-cert=c.pem"}, good, []string{"--tls-cert and --tls-key"}},
		{"database of another kind", nil, append(good, "PALMERO_DATABASE=mysql://x"), []string{"PALMERO_DATABASE: the database URL must begin"}},
		{"unreadable database URL", nil, append(good, "PALMERO_DATABASE=postgres://palmero:pass%word@db/x"), []string{"PALMERO_DATABASE: it cannot be read as a URL"}},
		{"not a flag", []string{"now"}, good, []string{`"now" is not a flag`}},
		{"unknown flag", []string{"--lisen", ":1", "--listen=:2"}, good, []string{"no flag --lisen; did you mean --listen?"}},
		{"flag without value", []string{"--listen"}, good, []string{"flag needs an argument"}},
		{"all at once", []string{"--listen=here", "--read-timeout=soon", "--nonsense", "--write-timeout=100h", "--body-limit=1GB", "--trusted-proxies=10.0.0.1",
			"--log-level=loud", "--log-format=xml", "--metrics=maybe", "--database-connections=0"}, nil,
			[]string{"--nonsense", "--listen", "--database-connections", "TOKEN_SECRET", "--trusted-proxies", "--body-limit", "--read-timeout", "--write-timeout", "--log-level", "--log-format", "--metrics"}},
		{"port out of range", []string{"--listen=:70000"}, good, []string{`"70000" is not a port`}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			r := readSettings("serve", byServe, test.args, test.environ)
			if len(r.problems) != len(test.want) {
				t.Fatalf("problems:\n%s\nwant %d", strings.Join(r.problems, "\n"), len(test.want))
			}
			for i, problem := range r.problems {
				if !strings.Contains(problem, test.want[i]) {
					t.Errorf("problem %q, want it to say %q", problem, test.want[i])
				}
				if strings.Contains(problem, goodSecret) || strings.Contains(problem, "pass%word") {
					t.Errorf("problem %q tells a secret", problem)
				}
			}
		})
	}
}

func TestCheckHidesSecrets(t *testing.T) {
	var out, errOut bytes.Buffer
	environ := []string{
		"PALMERO_TOKEN_SECRET=" + goodSecret, "PALMERO_PREVIOUS_TOKEN_SECRET=older-" + goodSecret, "PALMERO_PREVIOUS_TOKEN_KEY_ID=0",
		"PALMERO_DATABASE=postgres://palmero:first-pw@db/palmero?sslpassword=second-pw&sslmode=require", "PALMERO_LISTNE=:80", "PALMERO_LISTEN_FILE=nowhere",
	}
	status := run(t.Context(), []string{"serve", "--check"}, nil, &out, &errOut, environ)
	if status != done || errOut.Len() > 0 {
		t.Errorf("status %d, said %s", status, errOut.String())
	}
	for _, secret := range []string{goodSecret, "first-pw", "second-pw"} {
		if strings.Contains(out.String(), secret) {
			t.Errorf("%s is shown in\n%s", secret, out.String())
		}
	}
	for _, line := range []string{"(hidden, 39 bytes)", "postgres://palmero:xxxxx@db/palmero", "sslmode=require", "PALMERO_LISTNE is set, and no setting has that name",
		"PALMERO_LISTEN_FILE is set, and no setting has that name"} {
		if !strings.Contains(out.String(), line) {
			t.Errorf("no %q in\n%s", line, out.String())
		}
	}
}

// TestSettingsTable holds the table to its own rules: every default passes, and no name is there twice.
func TestSettingsTable(t *testing.T) {
	seen := map[string]int{}
	for _, s := range settingsTable {
		seen[s.name]++
		if s.fallback != "" {
			if err := s.set(&settings{}, s.fallback); err != nil {
				t.Errorf("default of %s: %v", s.name, err)
			}
		}
		if s.usedBy == 0 || s.help == "" || s.secret && (!s.file || s.fallback != "") {
			t.Errorf("%s is not well described", s.name)
		}
	}
	for name, times := range seen {
		if times > 1 {
			t.Errorf("%s stands there %d times", name, times)
		}
	}
}

func TestMigrationRoles(t *testing.T) {
	tests := []struct {
		name, role string
		args       []string
		owner      bool
	}{
		{"SQLite", "", nil, false},
		{"one role for all", "", []string{"--database=postgres://a@db/x"}, false},
		{"owner given", "a", []string{"--database=postgres://a@db/x", "--owner-database=postgres://o@db/x"}, true},
		{"role given", "r", []string{"--database=postgres://o@db/x", "--serving-role=r"}, false},
		{"both given", "r", []string{"--database=postgres://a@db/x", "--owner-database=postgres://o@db/x", "--serving-role=r"}, true},
	}
	for _, test := range tests {
		r := readSettings("migrate", byMigrate, test.args, nil)
		target, role := r.migration()
		if diff := cmp.Diff(test.role, role); diff != "" || (target == r.ownerDatabase) != test.owner || len(r.problems) > 0 {
			t.Errorf("%s: role %q, owner's database %t, problems %v", test.name, role, target == r.ownerDatabase, r.problems)
		}
	}
}
