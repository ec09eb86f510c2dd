package injuries

import (
	"errors"
	"fmt"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/rulebook"
)

// ask has the engine answer a figure. What the records hold was checked when it came in, so that a fault here is the book's silence on a day.
func ask(books *rulebook.Library, figure string, document any) (safety.Answer, error) {
	f, ok := safety.FigureOf(figure)
	if !ok {
		return nil, fmt.Errorf("there is no figure %q", figure)
	}
	answer, faults := f.Answer(books, document)
	if len(faults) > 0 {
		first := faults[0]
		return nil, &models.Error{Kind: models.Conflict, Key: first.Key, Terms: payroll.Terms(first.Terms)}
	}
	return answer, nil
}

// noValue turns a rulebook's silence on a day into an error that can be explained.
func noValue(err error) error {
	var missing *dated.NoValueError
	if errors.As(err, &missing) {
		terms := payroll.Terms{"book": missing.Book, "parameter": missing.Parameter, "date": missing.Date}
		return &models.Error{Kind: models.Conflict, Key: "fault.no_safety_value", Terms: terms, Cause: err}
	}
	return err
}
