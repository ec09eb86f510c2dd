package payroll

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"

	"palmero/payroll/dated"
)

// A term is stored with its type, so that it comes back as what it was: text, whole numbers and booleans as JSON has
// them, lists of text as JSON lists, all else as an object of one key that names the type: {"rate": "1.1500"}, {"dates": ["2026-02-16"]}.
const (
	centsTag       = "cents"
	rateTag        = "rate"
	piecesTag      = "pieces"
	minutesTag     = "minutes"
	dateTag        = "date"
	centsListTag   = "cents_list"
	ratesTag       = "rates"
	piecesListTag  = "pieces_list"
	minutesListTag = "minutes_list"
	datesTag       = "dates"
	numbersTag     = "numbers"
	booleansTag    = "booleans"
)

// MarshalJSON writes the terms in their storage form; a value of a type that is no term is an error.
func (t Terms) MarshalJSON() ([]byte, error) {
	if t == nil {
		return []byte("null"), nil
	}
	stored := make(map[string]any, len(t))
	for name, value := range t {
		tag, err := tagOf(value)
		if err != nil {
			return nil, fmt.Errorf("term %s: %w", name, err)
		}
		if stored[name] = value; tag != "" {
			stored[name] = map[string]any{tag: value}
		}
	}
	return json.Marshal(stored)
}

func tagOf(value any) (string, error) {
	switch value.(type) {
	case string, int, bool, []string:
		return "", nil
	case Cents:
		return centsTag, nil
	case Rate:
		return rateTag, nil
	case Pieces:
		return piecesTag, nil
	case Minutes:
		return minutesTag, nil
	case dated.Date:
		return dateTag, nil
	case []Cents:
		return centsListTag, nil
	case []Rate:
		return ratesTag, nil
	case []Pieces:
		return piecesListTag, nil
	case []Minutes:
		return minutesListTag, nil
	case []dated.Date:
		return datesTag, nil
	case []int:
		return numbersTag, nil
	case []bool:
		return booleansTag, nil
	}
	return "", fmt.Errorf("a value of type %T is no term", value)
}

// Storable is the terms as they can be stored: what is of no type that comes back as what it was is text.
func (t Terms) Storable() Terms {
	kept := Terms{}
	for name, value := range t {
		if _, err := tagOf(value); err != nil {
			value = fmt.Sprint(value)
		}
		kept[name] = value
	}
	return kept
}

// UnmarshalJSON reads the storage form back, every value in its type.
func (t *Terms) UnmarshalJSON(b []byte) error {
	var stored map[string]json.RawMessage
	if err := json.Unmarshal(b, &stored); err != nil {
		return err
	}
	if stored == nil {
		*t = nil
		return nil
	}
	*t = make(Terms, len(stored))
	for name, raw := range stored {
		value, err := readTerm(raw)
		if err != nil {
			return fmt.Errorf("term %s: %w", name, err)
		}
		(*t)[name] = value
	}
	return nil
}

func readTerm(raw json.RawMessage) (any, error) {
	switch raw = bytes.TrimSpace(raw); raw[0] {
	case '"':
		return readAs[string](raw)
	case 't', 'f':
		return readAs[bool](raw)
	case '[':
		return readAs[[]string](raw)
	case '{':
		return readTagged(raw)
	case 'n':
		return nil, errors.New("null is no term")
	}
	return readAs[int](raw)
}

func readTagged(raw json.RawMessage) (any, error) {
	var tagged map[string]json.RawMessage
	if err := json.Unmarshal(raw, &tagged); err != nil {
		return nil, err
	}
	for tag, value := range tagged {
		if read, known := tagReaders[tag]; known && len(tagged) == 1 {
			return read(value)
		}
	}
	return nil, fmt.Errorf("%s is no stored term", raw)
}

var tagReaders = map[string]func(json.RawMessage) (any, error){
	centsTag: readAs[Cents], rateTag: readAs[Rate], piecesTag: readAs[Pieces], minutesTag: readAs[Minutes], dateTag: readAs[dated.Date],
	centsListTag: readAs[[]Cents], ratesTag: readAs[[]Rate], piecesListTag: readAs[[]Pieces], minutesListTag: readAs[[]Minutes],
	datesTag: readAs[[]dated.Date], numbersTag: readAs[[]int], booleansTag: readAs[[]bool],
}

func readAs[T any](raw json.RawMessage) (any, error) {
	var value T
	err := json.Unmarshal(raw, &value)
	return value, err
}
