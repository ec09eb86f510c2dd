package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"palmero/handlers"
	"palmero/handlers/server"
	"palmero/handlers/tokens"
	"palmero/models"
	"palmero/models/evidence"
	"palmero/payroll/rulebook"
)

const serveHelp = `Usage: palmero serve [SETTINGS]

Runs the server until it gets SIGINT or SIGTERM; requests in hand are finished first. The database must be up to date
(see "palmero migrate"), and access tokens need a signing secret:

  openssl rand -base64 48 > token-secret
  palmero serve --database sqlite:///var/lib/palmero/palmero.db --token-secret-file token-secret

It keeps no state of its own: run several against one PostgreSQL.
`

func runServe(ctx context.Context, args []string, c console) int {
	r := readSettings("serve", byServe, args, c.environ)
	if status, ok := r.settle("serve", serveHelp, byServe, c); !ok {
		return status
	}
	log := r.logger(c)
	for _, name := range r.ignored {
		log.Warn("no setting has the name of this environment variable", "variable", name)
	}
	if err := serve(ctx, r.settings, log, c); err != nil {
		fmt.Fprintf(c.err, "palmero serve: %v\n", err)
		return failed
	}
	return done
}

func serve(ctx context.Context, s settings, log *slog.Logger, c console) (err error) {
	server.CollectLess()
	store, err := models.Open(ctx, s.database, s.storeOptions(log))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	issuer, err := tokens.NewIssuer(s.signingKeys(), s.issuer, s.tokenLifetime, time.Now)
	if err != nil {
		return err
	}
	books, err := rulebook.Load()
	if err != nil {
		return err
	}
	api, err := handlers.New(handlers.Config{
		Store: store, Books: books, Issuer: issuer, Log: log,
		TrustedProxies: s.trustedProxies, BodyLimit: s.bodyLimit, Metrics: s.metrics,
	})
	if err != nil {
		return err
	}
	defer keepSealing(ctx, store, s.sealInterval, log)()
	config := s.serverConfig(log)
	config.Listening = func(url string) { fmt.Fprintf(c.out, "Palmero listens on %s\n", url) }
	return server.Run(ctx, config, api)
}

// keepSealing seals audit entries beside what else goes on. The function that it returns waits for it, once ctx is done or the caller is.
func keepSealing(ctx context.Context, store *models.Store, every time.Duration, log *slog.Logger) (end func()) {
	ctx, stop := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		evidence.KeepSealing(ctx, store, every, log)
	}()
	return func() {
		stop()
		<-ended
	}
}

func (s *settings) logger(c console) *slog.Logger {
	options := &slog.HandlerOptions{Level: s.logLevel}
	if s.logJSON {
		return slog.New(slog.NewJSONHandler(c.err, options))
	}
	return slog.New(slog.NewTextHandler(c.err, options))
}

func (s *settings) signingKeys() tokens.Keys {
	keys := s.keys
	if s.previous.ID != "" {
		keys.Previous = &s.previous
	}
	return keys
}

func (s *settings) storeOptions(log *slog.Logger) models.Options {
	return models.Options{
		MaxConnections: s.connections, IdleConnections: s.idleConnections, ConnectionLifetime: s.connectionLifetime, StatementTimeout: s.statementTimeout,
		Slow: models.SlowStatements{After: s.slowStatement, Tell: func(name string, took time.Duration) {
			log.Warn("slow statement", "statement", name, "milliseconds", took.Milliseconds())
		}},
	}
}

func (s *settings) serverConfig(log *slog.Logger) server.Config {
	return server.Config{
		Address: s.listen, CertFile: s.certFile, KeyFile: s.keyFile, Log: log,
		ReadHeaderTimeout: s.readHeaderTimeout, ReadTimeout: s.readTimeout, WriteTimeout: s.writeTimeout,
		IdleTimeout: s.idleTimeout, ShutdownGrace: s.grace,
	}
}
