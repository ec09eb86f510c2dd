package server

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// running is a server started by a test.
type running struct {
	url  string
	stop context.CancelFunc
	end  chan error
}

func start(t *testing.T, config Config, handler http.Handler) *running {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	r := &running{stop: stop, end: make(chan error, 1)}
	bound := make(chan string, 1)
	config.Address, config.Log = "127.0.0.1:0", slog.New(slog.DiscardHandler)
	config.Listening = func(url string) { bound <- url }
	go func() { r.end <- Run(ctx, config, handler) }()
	select {
	case r.url = <-bound:
	case err := <-r.end:
		t.Fatal(err)
	}
	return r
}

func TestRunFinishesRequestsInHand(t *testing.T) {
	begun, release := make(chan struct{}), make(chan struct{})
	r := start(t, Config{ShutdownGrace: time.Minute}, http.HandlerFunc(func(w http.ResponseWriter, request *http.Request) {
		close(begun)
		<-release
		if request.Context().Err() == nil {
			io.WriteString(w, "finished")
		}
	}))
	answer := make(chan string, 1)
	go func() {
		response, err := http.Get(r.url)
		if err != nil {
			answer <- err.Error()
			return
		}
		defer response.Body.Close()
		body, _ := io.ReadAll(response.Body)
		answer <- string(body)
	}()
	<-begun
	r.stop()
	awaitClosed(t, strings.TrimPrefix(r.url, "http://"))
	close(release)
	if got := <-answer; got != "finished" {
		t.Errorf("the request in hand got %q", got)
	}
	if err := <-r.end; err != nil {
		t.Errorf("ended with %v", err)
	}
}

func awaitClosed(t *testing.T, address string) {
	t.Helper()
	for range 500 {
		conn, err := net.Dial("tcp", address)
		if err != nil {
			return
		}
		conn.Close()
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("it still takes connections")
}

func TestRunCutsOffAfterTheGrace(t *testing.T) {
	begun := make(chan struct{})
	ended := make(chan struct{})
	r := start(t, Config{ShutdownGrace: 20 * time.Millisecond}, http.HandlerFunc(func(_ http.ResponseWriter, request *http.Request) {
		close(begun)
		<-request.Context().Done()
		close(ended)
	}))
	go func() {
		if response, err := http.Get(r.url); err == nil {
			response.Body.Close()
		}
	}()
	<-begun
	r.stop()
	if err := <-r.end; err == nil || !strings.Contains(err.Error(), "cut off after 20ms") {
		t.Errorf("ended with %v", err)
	}
	<-ended
}

func TestRunSaysWhyItCannotListen(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	config := Config{Address: taken.Addr().String(), Log: slog.New(slog.DiscardHandler)}
	if err := Run(t.Context(), config, http.NotFoundHandler()); err == nil || !strings.Contains(err.Error(), config.Address) {
		t.Errorf("on a taken port: %v", err)
	}
	config.CertFile, config.KeyFile = "missing.pem", "missing.key"
	if err := Run(t.Context(), config, http.NotFoundHandler()); err == nil || !strings.Contains(err.Error(), "missing.pem") {
		t.Errorf("without the certificate's file: %v", err)
	}
}

func TestRunServesTLS(t *testing.T) {
	certFile, keyFile, roots := certificate(t)
	r := start(t, Config{CertFile: certFile, KeyFile: keyFile, ShutdownGrace: time.Minute}, http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		io.WriteString(w, "safe")
	}))
	for _, test := range []struct {
		version uint16
		taken   bool
	}{{tls.VersionTLS11, false}, {tls.VersionTLS12, true}, {tls.VersionTLS13, true}} {
		client := &http.Client{Transport: &http.Transport{
			DisableKeepAlives: true,
			TLSClientConfig:   &tls.Config{RootCAs: roots, MinVersion: test.version, MaxVersion: test.version},
		}}
		response, err := client.Get(r.url)
		if (err == nil) != test.taken {
			t.Errorf("%s: %v", tls.VersionName(test.version), err)
		}
		if err == nil {
			response.Body.Close()
		}
	}
	r.stop()
	if err := <-r.end; err != nil {
		t.Errorf("ended with %v", err)
	}
}

// certificate makes a certificate for 127.0.0.1 and returns its files.
func certificate(t *testing.T) (certFile, keyFile string, roots *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	certPEM := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	keyPEM := pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})
	certFile, keyFile = filepath.Join(t.TempDir(), "cert.pem"), filepath.Join(t.TempDir(), "key.pem")
	for file, content := range map[string][]byte{certFile: certPEM, keyFile: keyPEM} {
		if err := os.WriteFile(file, content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	roots = x509.NewCertPool()
	roots.AppendCertsFromPEM(certPEM)
	return certFile, keyFile, roots
}
