package access

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"time"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"

	"palmero/models"
	"palmero/payroll"
)

// Cost is what one hash costs.
type Cost struct {
	Memory  uint32 // KiB
	Passes  uint32
	Threads uint8
}

// DefaultCost is the argon2id setting of the OWASP Password Storage Cheat Sheet for small servers.
var DefaultCost = Cost{Memory: 19 * 1024, Passes: 2, Threads: 1}

const (
	saltLength = 16
	keyLength  = 32
	maxMemory  = 1 << 20 // KiB; a stored hash that asks for more was not written by us
	maxPasses  = 64
	hashWait   = 10 * time.Second // how long one waits for a turn
)

// hasher computes and verifies argon2id hashes, a few at a time.
type hasher struct {
	cost  Cost
	slots chan struct{}
	dummy string // a hash that no secret has, verified where there is no account so that the time taken tells nothing
}

func newHasher(cost Cost) *hasher {
	if cost == (Cost{}) {
		cost = DefaultCost
	}
	h := &hasher{cost: cost, slots: make(chan struct{}, max(2, runtime.GOMAXPROCS(0)))}
	salt, key := make([]byte, saltLength), make([]byte, keyLength)
	random(salt)
	random(key)
	h.dummy = h.encode(salt, key)
	return h
}

// random fills b; crypto/rand does not return errors.
func random(b []byte) { _, _ = rand.Read(b) }

// hash returns a secret's hash in PHC string form: $argon2id$v=19$m=…,t=…,p=…$salt$key.
func (h *hasher) hash(ctx context.Context, secret string) (string, error) {
	leave, err := h.enter(ctx)
	if err != nil {
		return "", err
	}
	defer leave()
	salt := make([]byte, saltLength)
	random(salt)
	return h.encode(salt, h.cost.key(secret, salt)), nil
}

// verify tells whether a hash is a secret's, and whether it was made at today's cost. An empty hash is nobody's; it takes as long.
func (h *hasher) verify(ctx context.Context, hash, secret string) (right, current bool, err error) {
	known := hash != ""
	if !known {
		hash = h.dummy
	}
	cost, salt, key, err := decode(hash)
	if err != nil {
		return false, false, err
	}
	leave, err := h.enter(ctx)
	if err != nil {
		return false, false, err
	}
	defer leave()
	same := subtle.ConstantTimeCompare(cost.key(secret, salt), key) == 1
	return same && known, cost == h.cost, nil
}

// enter waits for a turn.
func (h *hasher) enter(ctx context.Context) (leave func(), err error) {
	patience := time.NewTimer(hashWait)
	defer patience.Stop()
	select {
	case h.slots <- struct{}{}:
		return func() { <-h.slots }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-patience.C:
		return nil, &models.Error{Kind: models.TooMany, Key: "problem.busy", Terms: payroll.Terms{"seconds": int(hashWait.Seconds())}}
	}
}

// key derives the key of a secret. Two keyboards may write one ñ as one character or as two: both are the same secret.
func (c Cost) key(secret string, salt []byte) []byte {
	return argon2.IDKey(norm.NFC.Bytes([]byte(secret)), salt, c.Passes, c.Memory, c.Threads, keyLength)
}

func (h *hasher) encode(salt, key []byte) string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.cost.Memory, h.cost.Passes, h.cost.Threads,
		b64.EncodeToString(salt), b64.EncodeToString(key))
}

func decode(hash string) (c Cost, salt, key []byte, err error) {
	parts := strings.Split(hash, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return c, nil, nil, errors.New("a stored hash is not argon2id's")
	}
	if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &c.Memory, &c.Passes, &c.Threads); err != nil {
		return c, nil, nil, fmt.Errorf("a stored hash has no parameters: %w", err)
	}
	if c.Memory > maxMemory || c.Passes == 0 || c.Passes > maxPasses || c.Threads == 0 {
		return c, nil, nil, errors.New("a stored hash has parameters out of reason")
	}
	salt, errSalt := base64.RawStdEncoding.DecodeString(parts[4])
	key, errKey := base64.RawStdEncoding.DecodeString(parts[5])
	if err := errors.Join(errSalt, errKey); err != nil || len(key) != keyLength {
		return c, nil, nil, errors.New("a stored hash cannot be read")
	}
	return c, salt, key, nil
}
