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
	Kind        Kind              `json:"kind,omitempty"`
	Columns     map[string]string `json:"columns,omitempty"`      // the column's heading by field, where the heading is none of the usual ones; "" where no column says it
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
	c.OneOf("/kind", string(m.Kind), KindNames()...)
	known := fieldNames(m.Kind)
	for _, field := range slices.Sorted(maps.Keys(m.Columns)) {
		heading := m.Columns[field]
		if c.OptionalText("/columns/"+field, &heading, mappingText); !slices.Contains(known, field) {
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

// Takers are the roles that may take in a file of the kind: those that may record what its rows become one by one.
func (k Kind) Takers() []models.Role {
	if k == CrewSheets || k == Workers {
		return []models.Role{models.RoleClerk}
	}
	return []models.Role{models.RoleClerk, models.RoleAdministrator}
}

// KindNames are the kinds as text.
func KindNames() []string {
	var names []string
	for _, k := range Kinds {
		names = append(names, string(k))
	}
	return names
}

// KeptMapping is the mapping of a kind as it stands, with its version: 0 and empty where none is remembered.
type KeptMapping struct {
	Mapping
	Version   int64      `json:"version"`
	UpdatedAt *time.Time `json:"updated_at,omitempty"`
}

// mappingRow is a mapping as it is kept: the last one of its kind.
type mappingRow struct {
	EmployerID uuid.UUID `gorm:"primaryKey"`
	Kind       Kind      `gorm:"primaryKey"`
	Mapping    models.Document
	Version    int64
	UpdatedAt  time.Time
	UpdatedBy  uuid.UUID
}

// TableName tells gorm the table.
func (mappingRow) TableName() string { return "import_mappings" }

func (r *mappingRow) read(kind Kind) (*KeptMapping, error) {
	kept := &KeptMapping{Mapping: Mapping{Kind: kind}}
	if r.Version == 0 {
		return kept, nil
	}
	kept.Version, kept.UpdatedAt = r.Version, &r.UpdatedAt
	return kept, json.Unmarshal(r.Mapping, &kept.Mapping)
}

// Mappings returns an employer's remembered mappings, in the order of their kinds.
func Mappings(tx *models.Tx) ([]KeptMapping, error) {
	var rows []mappingRow
	if err := tx.DB().Order("kind").Find(&rows).Error; err != nil {
		return nil, err
	}
	all := make([]KeptMapping, len(rows))
	for i, r := range rows {
		kept, err := r.read(r.Kind)
		if err != nil {
			return nil, err
		}
		all[i] = *kept
	}
	return all, nil
}

// MappingOf returns the mapping of a kind; an empty one of version 0 where none is remembered.
func MappingOf(tx *models.Tx, kind Kind) (*KeptMapping, error) {
	var row mappingRow
	if err := tx.DB().Where("kind = ?", kind).Limit(1).Find(&row).Error; err != nil {
		return nil, err
	}
	return row.read(kind)
}

// UpdateMapping replaces the mapping of a kind, provided that the version read is still the one that stands: 0 where none was remembered.
func UpdateMapping(tx *models.Tx, version int64, m Mapping) (*KeptMapping, error) {
	return m.keep(tx, &version)
}

// remember keeps a mapping in place of whichever one of its kind stands.
func (m Mapping) remember(tx *models.Tx) error {
	_, err := m.keep(tx, nil)
	return err
}

// keep replaces the mapping of a kind; of a certain version where one is named. What says the same again changes nothing.
func (m Mapping) keep(tx *models.Tx, version *int64) (*KeptMapping, error) {
	var row mappingRow
	if err := tx.Locking().Where("kind = ?", m.Kind).Limit(1).Find(&row).Error; err != nil {
		return nil, err
	}
	if version != nil && *version != row.Version {
		return nil, &models.Error{Kind: models.Stale, Key: "problem.stale_version"}
	}
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
	before := row.Mapping
	if string(before) == string(document) {
		return row.read(m.Kind)
	}
	row.Kind, row.Mapping, row.Version, row.UpdatedAt, row.UpdatedBy = m.Kind, document, row.Version+1, tx.Now, tx.Actor
	if row.Version == 1 {
		err = tx.DB().Create(&row).Error
	} else {
		err = tx.DB().Select("mapping", "version", "updated_at", "updated_by").Where("kind = ?", m.Kind).Updates(&row).Error
	}
	if err != nil {
		return nil, err
	}
	kept := &KeptMapping{m, row.Version, &row.UpdatedAt}
	return kept, tx.Audit(models.Audit{Action: "map", SubjectKind: "import_mappings", SubjectID: derived(tx.Employer, "mapping", string(m.Kind)), Before: before, After: kept})
}

// derived makes an identifier that follows from its parts: version 5 of RFC 9562, within the employer.
func derived(employer uuid.UUID, parts ...string) uuid.UUID {
	name, err := json.Marshal(parts)
	if err != nil {
		panic(err) // texts
	}
	return uuid.NewSHA1(employer, name)
}
