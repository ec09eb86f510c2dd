package models

import (
	"strconv"
	"strings"
	"unicode"

	"github.com/google/uuid"
	"golang.org/x/text/unicode/norm"

	"palmero/payroll/dated"
)

// FindWorkers returns the workers after a page's start whom a few words mean and the conditions keep, one more than the limit where more follow. A number means the
// worker who has it; anything else whoever's name has all the words in it, whether they are typed with capitals and accents or not.
func FindWorkers(tx *Tx, p Page, words string, conditions ...Condition) ([]Worker, error) {
	words = plainly(words)
	if words == "" {
		return List[Worker](tx, p, conditions...)
	}
	if n, err := strconv.ParseInt(words, 10, 64); err == nil {
		return List[Worker](tx, p, append(conditions, Equal("number", n))...)
	}
	var named []struct {
		ID   uuid.UUID
		Name string
	}
	if err := tx.DB().Model(&Worker{}).Scopes(conditions...).Where("seq > ?", p.After).Order("seq").Find(&named).Error; err != nil {
		return nil, translate(err)
	}
	var ids []uuid.UUID
	wanted := strings.Fields(words)
	for _, w := range named {
		if len(ids) <= p.Limit && hasWords(w.Name, wanted) {
			ids = append(ids, w.ID)
		}
	}
	if len(ids) == 0 {
		return nil, nil
	}
	return List[Worker](tx, p, tx.Among("id", ids))
}

// hasWords tells whether a name has all of some words in it.
func hasWords(name string, words []string) bool {
	name = plainly(name)
	for _, w := range words {
		if !strings.Contains(name, w) {
			return false
		}
	}
	return true
}

// plainly is a text in small letters without accents and the spaces around it.
func plainly(s string) string {
	s = strings.ToLower(strings.TrimSpace(s))
	if !strings.ContainsFunc(s, func(r rune) bool { return r > unicode.MaxASCII }) {
		return s
	}
	unmarked := strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(s))
	return norm.NFC.String(unmarked)
}

// NotLeft keeps the workers whose employment goes on on a day or is yet to begin, and leaves out hands who turned out to be somebody else.
func NotLeft(day dated.Date) Condition {
	return Where("same_as IS NULL AND (ended_on IS NULL OR ended_on >= ?)", Day(day))
}

// LeftBefore keeps the workers whose employment ended before a day.
func LeftBefore(day dated.Date) Condition { return Where("ended_on < ?", Day(day)) }

// WorkerCrew is a crew that a worker is in.
type WorkerCrew struct {
	WorkerID, MemberID, CrewID uuid.UUID
	Number                     int64
	Name                       string
	Leads                      bool
	FromDate, ThroughDate      Date
}

// CrewsOfWorkers lists the crews that some workers are in from a day on, by worker and the crews' numbers.
func CrewsOfWorkers(tx *Tx, workers []uuid.UUID, day dated.Date) (map[uuid.UUID][]WorkerCrew, error) {
	var rows []WorkerCrew
	err := tx.DB().Table("crew_members AS m").Joins("JOIN crews c ON c.employer_id = m.employer_id AND c.id = m.crew_id").
		Select("m.worker_id, m.id AS member_id, c.id AS crew_id, c.number, c.name, m.leads, m.from_date, m.through_date").
		Where("m.employer_id = ?", tx.Employer).Scopes(tx.Among("m.worker_id", workers)).
		Where("(m.through_date IS NULL OR m.through_date >= ?)", Day(day)).Order("m.from_date, c.number").Scan(&rows).Error
	crews := map[uuid.UUID][]WorkerCrew{}
	for _, r := range rows {
		crews[r.WorkerID] = append(crews[r.WorkerID], r)
	}
	return crews, translate(err)
}
