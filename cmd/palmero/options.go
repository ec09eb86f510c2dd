package main

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"time"

	"palmero/handlers/tokens"
	"palmero/models"
)

// settings are the effective ones of a command, read and checked.
type settings struct {
	listen                                                           string
	database, ownerDatabase                                          models.Target
	databaseUser, servingRole                                        string
	ownerGiven                                                       bool
	connections                                                      int
	keys                                                             tokens.Keys
	previous                                                         tokens.Key
	issuer                                                           string
	tokenLifetime                                                    time.Duration
	certFile, keyFile                                                string
	trustedProxies                                                   []string
	bodyLimit                                                        int64
	readHeaderTimeout, readTimeout, writeTimeout, idleTimeout, grace time.Duration
	logLevel                                                         slog.Level
	logJSON, metrics                                                 bool
}

// usedBy says which commands have a setting.
type usedBy int

const (
	byServe usedBy = 1 << iota
	byMigrate
)

// setting is one line of the table: the flag --NAME, the environment variable PALMERO_NAME, and for one with a file
// twin also --NAME-file and PALMERO_NAME_FILE, whose value names a file that holds the value.
type setting struct {
	name     string
	argument string // what the value is, in the help; "" for a switch
	fallback string
	usedBy   usedBy
	secret   bool // no plain flag (others on the machine can read those), never shown
	file     bool // has a file twin
	show     func(value string) string
	set      func(s *settings, value string) error
	help     string
}

// settingsTable lists every setting there is.
var settingsTable = []setting{
	{name: "listen", argument: "HOST:PORT", fallback: "127.0.0.1:8470", usedBy: byServe, set: setListen,
		help: "where to listen; port 0 takes a free one"},
	{name: "database", argument: "URL", fallback: "sqlite://palmero.db", usedBy: byServe | byMigrate, file: true, show: hidePassword, set: setDatabase,
		help: "the database: sqlite:///absolute/path, sqlite://relative/path or postgres://user@host/name; for serve on PostgreSQL its user owns no tables"},
	{name: "owner-database", argument: "URL", usedBy: byMigrate, file: true, show: hidePassword, set: setOwnerDatabase,
		help: "the same PostgreSQL database as the user who owns the tables; without it, the user of --database does"},
	{name: "serving-role", argument: "NAME", usedBy: byMigrate, set: word(func(s *settings) *string { return &s.servingRole }),
		help: "the PostgreSQL role that serve signs in as, made if it is missing; the user of --database if --owner-database is given"},
	{name: "database-connections", argument: "N", fallback: "10", usedBy: byServe, set: setConnections,
		help: "how many connections to the database to use at most"},
	{name: "token-secret", argument: "SECRET", usedBy: byServe, secret: true, file: true, set: setSecret(func(s *settings) *tokens.Key { return &s.keys.Current }),
		help: "what access tokens are signed with: 32 random bytes or more, such as \"openssl rand -base64 48\" prints"},
	{name: "token-key-id", argument: "NAME", fallback: "1", usedBy: byServe, set: word(func(s *settings) *string { return &s.keys.Current.ID }),
		help: "the name that tokens know the secret by; a new secret needs a new name"},
	{name: "previous-token-secret", argument: "SECRET", usedBy: byServe, secret: true, file: true, set: setSecret(func(s *settings) *tokens.Key { return &s.previous }),
		help: "the secret before this one, whose tokens are taken until they expire"},
	{name: "previous-token-key-id", argument: "NAME", usedBy: byServe, set: word(func(s *settings) *string { return &s.previous.ID }),
		help: "the name of the secret before this one"},
	{name: "token-issuer", argument: "NAME", fallback: "palmero", usedBy: byServe, set: word(func(s *settings) *string { return &s.issuer }),
		help: "whom access tokens name as their issuer; servers that share the secret share the name"},
	{name: "token-lifetime", argument: "DURATION", fallback: "10m", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.tokenLifetime }, time.Minute, time.Hour),
		help: "how long an access token lasts"},
	{name: "tls-cert", argument: "FILE", usedBy: byServe, set: word(func(s *settings) *string { return &s.certFile }),
		help: "the certificate chain, PEM; with it the server speaks TLS only"},
	{name: "tls-key", argument: "FILE", usedBy: byServe, set: word(func(s *settings) *string { return &s.keyFile }),
		help: "the certificate's private key, PEM"},
	{name: "trusted-proxies", argument: "CIDR,…", usedBy: byServe, set: setTrustedProxies,
		help: "networks of the proxies whose word on a client's address is believed; none by default"},
	{name: "body-limit", argument: "BYTES", fallback: "2MiB", usedBy: byServe, set: setBodyLimit,
		help: "the largest request body, in bytes, KiB or MiB"},
	{name: "read-header-timeout", argument: "DURATION", fallback: "10s", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.readHeaderTimeout }, time.Second, time.Hour),
		help: "how long a request's headers may take to arrive"},
	{name: "read-timeout", argument: "DURATION", fallback: "1m", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.readTimeout }, time.Second, time.Hour),
		help: "how long a whole request may take to arrive"},
	{name: "write-timeout", argument: "DURATION", fallback: "2m", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.writeTimeout }, time.Second, time.Hour),
		help: "how long a request may take from its headers to the end of its answer"},
	{name: "idle-timeout", argument: "DURATION", fallback: "2m", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.idleTimeout }, time.Second, time.Hour),
		help: "how long a connection may stay open without a request"},
	{name: "shutdown-grace", argument: "DURATION", fallback: "20s", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.grace }, 0, time.Hour),
		help: "how long requests in hand may take after the signal to stop"},
	{name: "log-level", argument: "LEVEL", fallback: "info", usedBy: byServe, set: setLogLevel,
		help: "debug, info, warn or error"},
	{name: "log-format", argument: "FORMAT", fallback: "text", usedBy: byServe, set: choice(func(s *settings) *bool { return &s.logJSON }, "json", "text"),
		help: "text or json"},
	{name: "metrics", fallback: "true", usedBy: byServe, set: choice(func(s *settings) *bool { return &s.metrics }, "true", "false"),
		help: "whether /metrics answers: true or false"},
}

func (s setting) variable() string {
	return "PALMERO_" + strings.ToUpper(strings.ReplaceAll(s.name, "-", "_"))
}

// shown is the value as --check prints it.
func (s setting) shown(value string) string {
	switch {
	case value == "":
		return "-"
	case s.secret:
		return fmt.Sprintf("(hidden, %d bytes)", len(value))
	case s.show != nil:
		return s.show(value)
	}
	return value
}

// agree checks what concerns several settings of serve.
func (s *settings) agree() (problems []string) {
	if (s.certFile == "") != (s.keyFile == "") {
		problems = append(problems, "--tls-cert and --tls-key go together: give both or neither")
	}
	if (len(s.previous.Secret) == 0) != (s.previous.ID == "") {
		problems = append(problems, "--previous-token-key-id and the previous token secret go together: give both or neither")
	}
	if s.previous.ID != "" && s.previous.ID == s.keys.Current.ID {
		problems = append(problems, "--token-key-id and --previous-token-key-id are the same: a new secret needs a new name")
	}
	return problems
}

func word(field func(*settings) *string) func(*settings, string) error {
	return func(s *settings, value string) error {
		*field(s) = value
		return nil
	}
}

func choice(field func(*settings) *bool, yes, no string) func(*settings, string) error {
	return func(s *settings, value string) error {
		if value != yes && value != no {
			return fmt.Errorf("%q is neither %s nor %s", value, yes, no)
		}
		*field(s) = value == yes
		return nil
	}
}

func duration(field func(*settings) *time.Duration, least, most time.Duration) func(*settings, string) error {
	return func(s *settings, value string) error {
		d, err := time.ParseDuration(value)
		if err != nil {
			return fmt.Errorf("%q is not a length of time such as 30s or 2m", value)
		}
		if d < least || d > most {
			return fmt.Errorf("%s is not between %s and %s", d, least, most)
		}
		*field(s) = d
		return nil
	}
}

func setListen(s *settings, value string) error {
	_, port, err := net.SplitHostPort(value)
	if err != nil {
		return fmt.Errorf("%q is not an address such as 127.0.0.1:8470", value)
	}
	if _, err := strconv.ParseUint(port, 10, 16); err != nil {
		return fmt.Errorf("%q is not a port between 0 and 65535", port)
	}
	s.listen = value
	return nil
}

// setDatabase keeps what is wrong with the URL's inside to itself: it may hold a password.
func setDatabase(s *settings, value string) (err error) {
	address, err := url.Parse(value)
	if err != nil {
		return errors.New("it cannot be read as a URL")
	}
	s.databaseUser = address.User.Username()
	s.database, err = models.ParseTarget(value)
	return err
}

func setOwnerDatabase(s *settings, value string) (err error) {
	if value == "" {
		return nil
	}
	if _, err := url.Parse(value); err != nil {
		return errors.New("it cannot be read as a URL")
	}
	s.ownerGiven = true
	s.ownerDatabase, err = models.ParseTarget(value)
	return err
}

func setConnections(s *settings, value string) error {
	n, err := strconv.Atoi(value)
	if err != nil || n < 2 || n > 1000 {
		return fmt.Errorf("%q is not a number between 2 and 1000", value)
	}
	s.connections = n
	return nil
}

func setSecret(field func(*settings) *tokens.Key) func(*settings, string) error {
	return func(s *settings, value string) error {
		if value == "" && field(s) == &s.previous {
			return nil
		}
		if value == "" {
			return errors.New("it is missing: access tokens need a secret to be signed with; \"openssl rand -base64 48\" makes one")
		}
		if len(value) < tokens.MinSecret {
			return fmt.Errorf("it has %d bytes, and needs %d at least; \"openssl rand -base64 48\" makes a good one", len(value), tokens.MinSecret)
		}
		field(s).Secret = []byte(value)
		return nil
	}
}

func setTrustedProxies(s *settings, value string) error {
	if value == "" {
		return nil
	}
	for part := range strings.SplitSeq(value, ",") {
		network, err := netip.ParsePrefix(strings.TrimSpace(part))
		if err != nil {
			return fmt.Errorf("%q is not a network such as 10.0.0.0/8", part)
		}
		s.trustedProxies = append(s.trustedProxies, network.String())
	}
	return nil
}

func setBodyLimit(s *settings, value string) error {
	digits, unit := value, int64(1)
	if head, found := strings.CutSuffix(value, "KiB"); found {
		digits, unit = head, 1<<10
	} else if head, found := strings.CutSuffix(value, "MiB"); found {
		digits, unit = head, 1<<20
	}
	n, err := strconv.ParseInt(digits, 10, 32)
	if err != nil || n*unit < 1<<10 || n*unit > 1<<30 {
		return fmt.Errorf("%q is not a size between 1KiB and 1024MiB", value)
	}
	s.bodyLimit = n * unit
	return nil
}

func setLogLevel(s *settings, value string) error {
	for _, level := range []slog.Level{slog.LevelDebug, slog.LevelInfo, slog.LevelWarn, slog.LevelError} {
		if strings.EqualFold(value, level.String()) {
			s.logLevel = level
			return nil
		}
	}
	return fmt.Errorf("%q is none of debug, info, warn and error", value)
}

// hidePassword shows a database URL without the password, be it before the host or in the query.
func hidePassword(value string) string {
	address, err := url.Parse(value)
	if err != nil {
		return "(hidden: not a URL)"
	}
	query := address.Query()
	for name := range query {
		if strings.Contains(strings.ToLower(name), "password") {
			query.Set(name, "xxxxx")
			address.RawQuery = query.Encode()
		}
	}
	return address.Redacted()
}
