package models

import (
	"database/sql/driver"
	"fmt"
)

// Document is JSON kept as text, to the byte as it was written, so that a hash over it stays true.
type Document []byte

// Value writes the text.
func (d Document) Value() (driver.Value, error) { return string(d), nil }

// Scan reads the text.
func (d *Document) Scan(v any) error {
	switch v := v.(type) {
	case string:
		*d = Document(v)
	case []byte:
		*d = append(Document(nil), v...)
	default:
		return fmt.Errorf("a document cannot be read from %T", v)
	}
	return nil
}

// GormDataType names the column type for gorm.
func (Document) GormDataType() string { return "text" }

// MarshalJSON writes the document as it is.
func (d Document) MarshalJSON() ([]byte, error) {
	if len(d) == 0 {
		return []byte("null"), nil
	}
	return d, nil
}
