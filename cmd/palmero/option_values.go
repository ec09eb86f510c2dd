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

// Here is how the value of each kind of setting is read and checked. What is wrong is told without the value where that
// may be a secret.

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

func number(field func(*settings) *int, least, most int) func(*settings, string) error {
	return func(s *settings, value string) error {
		n, err := strconv.Atoi(value)
		if err != nil || n < least || n > most {
			return fmt.Errorf("%q is not a number between %d and %d", value, least, most)
		}
		*field(s) = n
		return nil
	}
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
