package documents

import (
	"strings"

	"palmero/handlers/text"
	"palmero/models/payrun"
	"palmero/payroll"
)

// ProblemText says what a problem of a pay run is about: of a question about a break everything that the records show, and the premium.
func ProblemText(p *payrun.Problem, c *text.Catalogue) string {
	if p.Question == nil {
		return c.Say(p.Code, p.Terms)
	}
	var all []string
	for _, r := range p.Question.Reasons {
		all = append(all, c.Say("break."+r.Code, r.Terms))
	}
	key := "break_premium.proposed"
	if p.Question.Premium == 0 {
		key = "break_premium.none"
	}
	return strings.Join(append(all, c.Say(key, payroll.Terms{"premium": p.Question.Premium})), " ")
}
