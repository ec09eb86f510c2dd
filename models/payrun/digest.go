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
type digest struct{ hash hash.Hash }

func newDigest(profile *models.EmployerProfile) *digest {
	d := &digest{sha256.New()}
	d.write(jsonOf(payroll.Engine), jsonOf(profile.Content))
	return d
}

// write takes in documents, each ended by a line feed.
func (d *digest) write(documents ...[]byte) {
	for _, b := range documents {
		d.hash.Write(b)
		d.hash.Write([]byte{'\n'})
	}
}

func (d *digest) add(s *statement) {
	s.papers = papers{heading: jsonOf(s.heading), week: jsonOf(s.week), details: jsonOf(s.details)}
	d.write(s.papers.heading, s.papers.week, s.papers.details)
	for _, p := range s.problems {
		d.write(jsonOf(p.Kind), jsonOf(p.subject()))
	}
}

func (d *digest) book(b *rulebook.Book) { d.write(jsonOf(b.Key()), jsonOf(b.Digest())) }

func (d *digest) sum() string { return hex.EncodeToString(d.hash.Sum(nil)) }

func jsonOf(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // plain values of this program
	}
	return b
}
