package handlers

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
)

// wordsLimit is how many bytes the body of an event may have: a few fields and notes.
const wordsLimit = 16 << 10

// versioned is what every record of the set-up begins with, where the API shows more of it than was set.
type versioned struct {
	ID        uuid.UUID `json:"id"`
	CreatedAt time.Time `json:"created_at"`
	UpdatedAt time.Time `json:"updated_at"`
	Version   int64     `json:"version"`
}

func versionOf[C any](k *models.Kept[C]) versioned {
	return versioned{k.ID, k.CreatedAt, k.UpdatedAt, k.Version}
}

// happens is a route's way to record that something happened to the record in the path.
func happens[In, Out any](do func(tx *models.Tx, id uuid.UUID, in In) (*Out, bool, error)) handler {
	return taking(func(rq *request, in In) (*reply, error) {
		id, err := rq.id()
		if err != nil {
			return nil, err
		}
		return recordEvent(rq, func(tx *models.Tx) (*Out, bool, error) { return do(tx, id, in) })
	})
}

// decides is the same for what is decided on the state of the record that somebody looked at, by If-Match.
func decides[In, Out any](do func(tx *models.Tx, id uuid.UUID, version int64, in In) (*Out, bool, error)) handler {
	return func(rq *request) (*reply, error) {
		version, err := rq.ifMatch()
		if err != nil {
			return nil, err
		}
		return happens(func(tx *models.Tx, id uuid.UUID, in In) (*Out, bool, error) { return do(tx, id, version, in) })(rq)
	}
}

// recordEvent answers with what a command recorded.
func recordEvent[Out any](rq *request, do func(tx *models.Tx) (*Out, bool, error)) (*reply, error) {
	var out *Out
	var repeated bool
	err := rq.in(func(tx *models.Tx) (err error) {
		out, repeated, err = do(tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: out, repeated: repeated}, nil
}
