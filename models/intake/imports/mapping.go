package imports

import (
	"encoding/json"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Kind is what the rows of a file are.
type Kind string

// The kinds of file.
const (
	CrewSheets  Kind = "crew-sheets"
	Workers     Kind = "workers"
	Blocks      Kind = "blocks"
	PieceRates  Kind = "piece-rates"
	HourlyRates Kind = "hourly-rates"
)

// Kinds lists them.
var Kinds = []Kind{CrewSheets, Workers, Blocks, PieceRates, HourlyRates}

// Mapping says how an employer's files of one kind are to be read.
type Mapping struct {
	Kind        Kind              `json:"kind"`
	Columns     map[string]string `json:"columns,omitempty"`      // the column's heading by field, where the heading is none of the usual ones
	DateOrder   string            `json:"date_order,omitempty"`   // of dates such as 3/4/2026: "mdy", "dmy" or "ymd"
	DecimalMark string            `json:"decimal_mark,omitempty"` // "." or ","
	Sheet       string            `json:"sheet,omitempty"`        // of a workbook; its first where none is named
	Crew        string            `json:"crew,omitempty"`         // number or name of the crew, where no column says so
	Garden      string            `json:"garden,omitempty"`       // number or name of the garden, likewise
	Overnight   bool              `json:"overnight,omitempty"`    // whether a clock time before the one that it follows is of the next day
	Values      map[string]Words  `json:"values,omitempty"`       // by field: what the file's words stand for
}

// Words say what a file's words stand for in the records: "poll." for "pollination".
type Words map[string]string

// longest texts of a mapping, in characters, and how many words it has at most.
const (
	mappingText  = 100
	mappingWords = 500
)

// check trims a mapping and returns its faults.
func (m *Mapping) check(tx *models.Tx) ([]payroll.Fault, error) {
	c := models.NewChecker(tx)
	c.OneOf("/kind", string(m.Kind), kindNames()...)
	known := fieldNames(m.Kind)
	for _, field := range slices.Sorted(maps.Keys(m.Columns)) {
		heading := m.Columns[field]
		if c.Text("/columns/"+field, &heading, mappingText); !slices.Contains(known, field) {
			c.Fault("/columns/"+field, "fault.not_one_of", payroll.Terms{"value": field, "allowed": known})
		}
		m.Columns[field] = heading
	}
	if m.DateOrder != "" {
		c.OneOf("/date_order", m.DateOrder, "mdy", "dmy", "ymd")
	}
	if m.DecimalMark != "" {
		c.OneOf("/decimal_mark", m.DecimalMark, ".", ",")
	}
	c.OptionalText("/sheet", &m.Sheet, mappingText)
	c.OptionalText("/crew", &m.Crew, mappingText)
	c.OptionalText("/garden", &m.Garden, mappingText)
	for _, field := range slices.Sorted(maps.Keys(m.Values)) {
		words := m.Values[field]
		if !slices.Contains(known, field) {
			c.Fault("/values/"+field, "fault.not_one_of", payroll.Terms{"value": field, "allowed": known})
		}
		if len(words) > mappingWords {
			c.Fault("/values/"+field, "fault.too_many_words", payroll.Terms{"limit": mappingWords})
		}
		for from, to := range words {
			c.Text("/values/"+field, &to, mappingText)
			words[from] = to
		}
	}
	return c.Done()
}

func kindNames() []string {
	var names []string
	for _, k := range Kinds {
		names = append(names, string(k))
	}
	return names
}

// keptMapping is a mapping as it is kept: the last one of its kind.
type keptMapping struct {
	EmployerID uuid.UUID `gorm:"primaryKey"`
	Kind       Kind      `gorm:"primaryKey"`
	Mapping    models.Document
	UpdatedAt  time.Time
	UpdatedBy  uuid.UUID
}

// TableName tells gorm the table.
func (keptMapping) TableName() string { return "import_mappings" }

// Mappings returns an employer's remembered mappings, in the order of their kinds.
func Mappings(tx *models.Tx) ([]Mapping, error) {
	var rows []keptMapping
	if err := tx.DB().Order("kind").Find(&rows).Error; err != nil {
		return nil, err
	}
	all := make([]Mapping, len(rows))
	for i, r := range rows {
		if err := json.Unmarshal(r.Mapping, &all[i]); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// remembered returns the mapping of a kind; an empty one where none is remembered.
func remembered(tx *models.Tx, kind Kind) (Mapping, error) {
	m := Mapping{Kind: kind}
	var row keptMapping
	err := tx.DB().Where("kind = ?", kind).Limit(1).Find(&row).Error
	if err == nil && row.EmployerID != uuid.Nil {
		err = json.Unmarshal(row.Mapping, &m)
	}
	return m, err
}

// Remember keeps a mapping in place of the one of its kind.
func Remember(tx *models.Tx, m Mapping) (*Mapping, error) {
	faults, err := m.check(tx)
	if err == nil {
		err = models.Faulty(faults)
	}
	if err != nil {
		return nil, err
	}
	document, err := json.Marshal(m)
	if err != nil {
		return nil, err
	}
	var row keptMapping
	if err := tx.Locking().Where("kind = ?", m.Kind).Limit(1).Find(&row).Error; err != nil {
		return nil, err
	}
	before := row.Mapping
	if string(before) == string(document) {
		return &m, nil
	}
	isNew := row.EmployerID == uuid.Nil
	row.Kind, row.Mapping, row.UpdatedAt, row.UpdatedBy = m.Kind, document, tx.Now, tx.Actor
	if isNew {
		err = tx.DB().Create(&row).Error
	} else {
		err = tx.DB().Model(&keptMapping{}).Where("kind = ?", m.Kind).
			Updates(map[string]any{"mapping": row.Mapping, "updated_at": row.UpdatedAt, "updated_by": row.UpdatedBy}).Error
	}
	if err != nil {
		return nil, err
	}
	return &m, tx.Audit(models.Audit{Action: "map", SubjectKind: "import_mappings", SubjectID: derived(tx.Employer, "mapping", string(m.Kind)), Before: before, After: m})
}

// derived makes an identifier that follows from its parts: version 5 of RFC 9562, within the employer.
func derived(employer uuid.UUID, parts ...string) uuid.UUID {
	name, err := json.Marshal(parts)
	if err != nil {
		panic(err) // texts
	}
	return uuid.NewSHA1(employer, name)
}
