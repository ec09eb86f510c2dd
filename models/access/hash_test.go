package access

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"palmero/models"
)

func TestHash(t *testing.T) {
	h := newHasher(cheap)
	hash, err := h.hash(t.Context(), secret)
	if err != nil || !strings.HasPrefix(hash, "$argon2id$v=19$m=64,t=1,p=1$") {
		t.Fatal(hash, err)
	}
	if right, current, err := h.verify(t.Context(), hash, secret); !right || !current || err != nil {
		t.Error("its own secret", right, current, err)
	}
	if right, _, err := h.verify(t.Context(), hash, secret+"s"); right || err != nil {
		t.Error("another secret", right, err)
	}
	if right, _, err := h.verify(t.Context(), "", ""); right || err != nil {
		t.Error("nobody's", right, err)
	}
	for _, broken := range []string{
		"x", "$argon2i$v=19$m=64,t=1,p=1$AAAA$AAAA", "$argon2id$v=19$m=99999999,t=1,p=1$AAAA$AAAA", "$argon2id$v=19$m=64,t=0,p=1$AAAA$AAAA",
		"$argon2id$v=19$m=64$AAAA$AAAA", "$argon2id$v=19$m=64,t=1,p=1$AAAA$AAAA",
	} {
		if _, _, err := h.verify(t.Context(), broken, secret); err == nil {
			t.Errorf("%q was read", broken)
		}
	}
}

// The result of argon2id for the reference implementation's own test: version 19, two passes, 65,536 KiB, one thread.
// Source: phc-winner-argon2, src/test.c.
func TestHashOfTheReference(t *testing.T) {
	const reference = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"
	if right, _, err := newHasher(cheap).verify(t.Context(), reference, "password"); !right || err != nil {
		t.Error(right, err)
	}
}

func TestOnlyAFewHashesAtOnce(t *testing.T) {
	h := newHasher(cheap)
	for range cap(h.slots) {
		h.slots <- struct{}{}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if _, err := h.hash(ctx, secret); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("one more than there is room for: %v", err)
	}
	<-h.slots
	if _, err := h.hash(t.Context(), secret); err != nil {
		t.Error(err)
	}
}

func TestCodesReadByHand(t *testing.T) {
	seen := map[string]bool{}
	for range 100 {
		code := newCode()
		if len(code) != codeLength || seen[code] || strings.Trim(code, alphabet) != "" {
			t.Fatal(code)
		}
		seen[code] = true
	}
	if got := plainCode("o1-il abc"); got != "0111ABC" {
		t.Error(got)
	}
}

func TestLeastSecret(t *testing.T) {
	if LeastSecret(models.RoleWorker) != 8 || LeastSecret(models.RoleCrewLead) != 12 {
		t.Error(LeastSecret(models.RoleWorker), LeastSecret(models.RoleCrewLead))
	}
}
