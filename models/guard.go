package models

import (
	"errors"
	"regexp"
	"slices"

	"github.com/google/uuid"
	"gorm.io/gorm"
	"gorm.io/gorm/callbacks"
	"gorm.io/gorm/clause"
)

// employerKey is the key of a transaction's employer in the context of its statements.
type employerKey struct{}

var errUnscoped = errors.New("a statement outside any employer's records was refused")

// shared are the tables that belong to no employer: the directory and the texts of rulebooks.
var shared = map[string]bool{"employers": true, "book_texts": true}

// scoping holds every statement to the employer of its context.
type scoping struct{ owned map[string]bool }

// guard adds a condition to the statements that gorm writes, and sets the column on what is created. SQL that names one of the owned
// tables without holding it to the employer, be it written by hand, joined, or part of a condition, is refused.
func guard(db *gorm.DB, owned map[string]bool) error {
	s := scoping{owned}
	on := db.Callback()
	return errors.Join(
		on.Query().Before("gorm:query").Register("palmero:hold", s.holdQuery),
		on.Row().Before("gorm:row").Register("palmero:hold", s.holdQuery),
		on.Update().Before("gorm:update").Register("palmero:hold", s.hold),
		on.Delete().Before("gorm:delete").Register("palmero:hold", s.hold),
		on.Raw().Before("gorm:raw").Register("palmero:hold", s.hold),
		on.Create().Before("gorm:create").Register("palmero:own", own),
		// What gorm makes of a change is known once it is made; the error undoes it with the transaction.
		on.Update().After("gorm:update").Register("palmero:check", s.check),
		on.Delete().After("gorm:delete").Register("palmero:check", s.check),
	)
}

// hold adds the condition, or checks SQL that was written by hand.
func (s scoping) hold(tx *gorm.DB) {
	if tx.Statement.SQL.Len() > 0 {
		s.checkText(tx, 1)
		return
	}
	if shared[tx.Statement.Table] {
		return
	}
	employer, ok := employerOf(tx)
	if !ok {
		_ = tx.AddError(errUnscoped)
		return
	}
	where := []clause.Expression{clause.Eq{Column: clause.Column{Table: clause.CurrentTable, Name: "employer_id"}, Value: employer}}
	if given, ok := tx.Statement.Clauses["WHERE"].Expression.(clause.Where); ok && len(given.Exprs) > 0 {
		where = append(where, bracketed{given})
	}
	delete(tx.Statement.Clauses, "WHERE")
	tx.Statement.AddClause(clause.Where{Exprs: where})
}

// bracketed keeps an OR among conditions from reaching past them.
type bracketed struct{ clause.Where }

// Build writes the conditions in brackets.
func (b bracketed) Build(builder clause.Builder) {
	_ = builder.WriteByte('(') // it is written to memory
	b.Where.Build(builder)
	_ = builder.WriteByte(')')
}

// holdQuery has the query written at once, so that it can be looked at before it runs.
func (s scoping) holdQuery(tx *gorm.DB) {
	byHand := tx.Statement.SQL.Len() > 0
	s.hold(tx)
	if !byHand && tx.Error == nil {
		callbacks.BuildQuerySQL(tx)
		s.check(tx)
	}
}

func (s scoping) check(tx *gorm.DB) { s.checkText(tx, 0) }

var (
	named = regexp.MustCompile("(?i)\\b(?:from|join|update|into)\\s+(?:only\\s+)?[\"`]?([a-z_]+)")
	held  = regexp.MustCompile("(?i)\\bemployer_id[\"`]?\\s*=|=\\s*[a-z_.\"`]*\\bemployer_id\\b|\\([\"`]?employer_id\\b|/\\* employer_id \\*/")
)

// checkText wants the text to hold as many tables to an employer as it names, at least so many, and to the employer of the context.
func (s scoping) checkText(tx *gorm.DB, atLeast int) {
	text := tx.Statement.SQL.String()
	tables := 0
	for _, match := range named.FindAllStringSubmatch(text, -1) {
		if s.owned[match[1]] {
			tables++
		}
	}
	tables = max(tables, atLeast)
	if tables == 0 {
		return
	}
	employer, ok := employerOf(tx)
	bound := slices.ContainsFunc(tx.Statement.Vars, func(v any) bool { return v == employer || v == employer.String() })
	if !ok || !bound || len(held.FindAllString(text, tables)) < tables {
		_ = tx.AddError(errUnscoped)
	}
}

// own makes what is created the employer's.
func own(tx *gorm.DB) {
	if shared[tx.Statement.Table] {
		return
	}
	employer, ok := employerOf(tx)
	if !ok || tx.Statement.Schema == nil || tx.Statement.Schema.LookUpField("EmployerID") == nil {
		_ = tx.AddError(errUnscoped)
		return
	}
	tx.Statement.SetColumn("EmployerID", employer, true)
}

func employerOf(tx *gorm.DB) (uuid.UUID, bool) {
	employer, ok := tx.Statement.Context.Value(employerKey{}).(uuid.UUID)
	return employer, ok
}
