package server

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"
)

// maxHeader bounds a request's headers, in bytes.
const maxHeader = 64 << 10

// Config says how to listen; Log must be there. A timeout of zero is none.
type Config struct {
	Address           string // host:port; port 0 takes a free one
	CertFile, KeyFile string // PEM; both or neither
	ReadHeaderTimeout time.Duration
	ReadTimeout       time.Duration
	WriteTimeout      time.Duration
	IdleTimeout       time.Duration
	ShutdownGrace     time.Duration // how long requests in hand may take once asked to stop
	Log               *slog.Logger
	Listening         func(url string) // told the address actually bound, once connections are taken; may be nil
}

// Run serves until ctx is done, then takes no more connections, lets the requests in hand finish, and returns nil. The
// error says why it could not listen, or that requests had to be cut off after the grace.
func Run(ctx context.Context, config Config, handler http.Handler) error {
	secure, err := tlsConfig(config)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", config.Address)
	if err != nil {
		return fmt.Errorf("cannot listen on %s: %w", config.Address, err)
	}
	requests, cutOff := context.WithCancel(context.WithoutCancel(ctx))
	defer cutOff()
	server := &http.Server{
		Handler: handler, TLSConfig: secure, MaxHeaderBytes: maxHeader,
		ReadHeaderTimeout: config.ReadHeaderTimeout, ReadTimeout: config.ReadTimeout,
		WriteTimeout: config.WriteTimeout, IdleTimeout: config.IdleTimeout,
		ErrorLog:    slog.NewLogLogger(config.Log.Handler(), slog.LevelWarn),
		BaseContext: func(net.Listener) context.Context { return requests },
	}
	served := make(chan error, 1)
	go func() { served <- serve(server, listener) }()
	announce(config, listener.Addr(), secure != nil)
	select {
	case err := <-served:
		return fmt.Errorf("the server ended: %w", err)
	case <-ctx.Done():
		return stop(server, config)
	}
}

func serve(server *http.Server, listener net.Listener) error {
	if server.TLSConfig != nil {
		return server.ServeTLS(listener, "", "")
	}
	return server.Serve(listener)
}

func announce(config Config, address net.Addr, secure bool) {
	scheme := "http"
	if secure {
		scheme = "https"
	}
	url := scheme + "://" + address.String()
	config.Log.Info("listening", "url", url)
	if config.Listening != nil {
		config.Listening(url)
	}
}

func stop(server *http.Server, config Config) error {
	config.Log.Info("stopping", "grace", config.ShutdownGrace)
	grace, cancel := context.WithTimeout(context.Background(), config.ShutdownGrace)
	defer cancel()
	if err := server.Shutdown(grace); err != nil {
		return errors.Join(fmt.Errorf("requests were cut off after %s: %w", config.ShutdownGrace, err), server.Close())
	}
	config.Log.Info("stopped")
	return nil
}

// tlsConfig is nil without a certificate. The files are read at once, so that a wrong one shows at the start.
func tlsConfig(config Config) (*tls.Config, error) {
	if config.CertFile == "" && config.KeyFile == "" {
		return nil, nil
	}
	certificate, err := tls.LoadX509KeyPair(config.CertFile, config.KeyFile)
	if err != nil {
		return nil, fmt.Errorf("cannot use the TLS certificate %s with the key %s: %w", config.CertFile, config.KeyFile, err)
	}
	return &tls.Config{MinVersion: tls.VersionTLS12, Certificates: []tls.Certificate{certificate}}, nil
}
