package main

import (
	"fmt"
	"log/slog"
	"strings"
	"time"

	"palmero/handlers/tokens"
	"palmero/models"
)

// settings are the effective ones of a command, read and checked.
type settings struct {
	listen            string
	certFile, keyFile string
	trustedProxies    []string
	bodyLimit         int64

	database, ownerDatabase   models.Target
	databaseUser, servingRole string
	ownerGiven                bool
	connections               int
	idleConnections           int
	connectionLifetime        time.Duration
	statementTimeout          time.Duration
	slowStatement             time.Duration

	keys          tokens.Keys
	previous      tokens.Key // no name if there is none
	issuer        string
	tokenLifetime time.Duration

	readHeaderTimeout, readTimeout time.Duration
	writeTimeout, idleTimeout      time.Duration
	grace                          time.Duration
	sealInterval                   time.Duration

	logLevel         slog.Level
	logJSON, metrics bool
}

// usedBy says which commands have a setting.
type usedBy int

const (
	byServe usedBy = 1 << iota
	byMigrate
	byAccount
	byRecords // verify, backup, retention
	byRestore
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
	{name: "database", argument: "URL", fallback: "sqlite://palmero.db", usedBy: byServe | byMigrate | byAccount | byRecords | byRestore, file: true, show: hidePassword, set: setDatabase,
		help: "the database: sqlite:///absolute/path, sqlite://relative/path or postgres://user@host/name; on PostgreSQL its user owns no tables, unless it is the owner's for migrate or restore"},
	{name: "owner-database", argument: "URL", usedBy: byMigrate | byRestore, file: true, show: hidePassword, set: setOwnerDatabase,
		help: "the same PostgreSQL database as the user who owns the tables; without it, the user of --database does"},
	{name: "serving-role", argument: "NAME", usedBy: byMigrate | byRestore, set: word(func(s *settings) *string { return &s.servingRole }),
		help: "the PostgreSQL role that serve signs in as, made if it is missing; the user of --database if --owner-database is given"},
	{name: "database-connections", argument: "N", fallback: "10", usedBy: byServe, set: number(func(s *settings) *int { return &s.connections }, 2, 1000),
		help: "how many connections to the database to use at most; those of all servers together stay below PostgreSQL's max_connections"},
	{name: "database-idle", argument: "N", fallback: "5", usedBy: byServe, set: number(func(s *settings) *int { return &s.idleConnections }, 1, 1000),
		help: "how many of them stay open while nothing is asked"},
	{name: "database-lifetime", argument: "DURATION", fallback: "30m", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.connectionLifetime }, 0, 24*time.Hour),
		help: "after how long a connection is replaced, on PostgreSQL; 0 keeps it"},
	{name: "statement-timeout", argument: "DURATION", fallback: "1m", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.statementTimeout }, 0, time.Hour),
		help: "after how long PostgreSQL ends a statement; 0 never does"},
	{name: "slow-statement", argument: "DURATION", fallback: "1s", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.slowStatement }, 0, time.Hour),
		help: "log statements that take longer, by name and never with their values; 0 logs none"},
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
		help: "the largest request body, in bytes, KiB or MiB; a spreadsheet may be of 16 MiB all the same"},
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
	{name: "seal-interval", argument: "DURATION", fallback: "1m", usedBy: byServe, set: duration(func(s *settings) *time.Duration { return &s.sealInterval }, time.Second, 24*time.Hour),
		help: "how often audit entries are sealed; several servers may do so"},
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
