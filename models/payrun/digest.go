package payrun

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"hash"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// digest is the hash over everything that a run's figures follow from. Approval makes it anew: where it differs, somebody recorded something
// since the draft, and the draft is not what would be paid.
type digest struct {
	hash hash.Hash
	enc  *json.Encoder
}

func newDigest(profile *models.EmployerProfile) *digest {
	h := sha256.New()
	d := &digest{hash: h, enc: json.NewEncoder(h)}
	d.write(payroll.Engine, profile.Content)
	return d
}

func (d *digest) write(values ...any) {
	for _, v := range values {
		if err := d.enc.Encode(v); err != nil {
			panic(err) // plain values of this program, written to memory
		}
	}
}

func (d *digest) add(s *statement) {
	d.write(s.heading, s.week, s.details)
	for _, p := range s.problems {
		d.write(p.Kind, p.subject())
	}
}

func (d *digest) book(b *rulebook.Book) { d.write(b.Key(), b.Digest()) }

func (d *digest) sum() string { return hex.EncodeToString(d.hash.Sum(nil)) }
