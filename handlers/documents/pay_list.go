package documents

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// PayListRow is one worker of a pay list.
type PayListRow struct {
	Number    string // the worker's short number
	Name      string
	WeekStart dated.Date
	Worked    payroll.Minutes
	Totals    payroll.Totals
	Payment   *Payment // nil until paid

	Void       bool // taken back before it was paid: its amounts are left out, so that every column adds up to its total
	VoidReason string
}

// Payment says how and when a net amount was paid.
type Payment struct {
	On        dated.Date
	Method    string // "cash", "check", "transfer", or the farm's own word
	Reference string // such as a check number; "" where there is none
}

// ChainHead is the last seal over the audit entries when a document was printed: on paper it is a witness against whoever makes the chain anew.
type ChainHead struct {
	Seal int64 // 0: nothing is sealed yet
	At   time.Time
	Hash string
}

// PayListCSV writes a pay list as a spreadsheet takes it: a heading, one row per statement in the order given, a row of totals, and with a head
// one that names it, its hash where references stand.
//
// It is UTF-8 behind a byte order mark, with lines ended by CR LF: without the mark the most used spreadsheet reads the accents
// of names as something else, and the others take no notice of it. Amounts are plain decimals and hours h:mm, which are numbers to a
// spreadsheet; a text that one would run as a formula gets an apostrophe in front.
func PayListCSV(w io.Writer, rows []PayListRow, head *ChainHead, c *text.Catalogue) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	records := [][]string{payListHeading(c)}
	total := PayListRow{Name: c.Say("document.total", nil)}
	for _, row := range rows {
		if row.Void {
			records = append(records, voidRecord(row, c))
			continue
		}
		total.Worked += row.Worked
		total.Totals = addTotals(total.Totals, row.Totals)
		records = append(records, payListRecord(row, c))
	}
	records = append(records, payListRecord(total, c))
	if head != nil {
		records = append(records, headRecord(head, c))
	}
	return out.WriteAll(records)
}

func headRecord(head *ChainHead, c *text.Catalogue) []string {
	record := make([]string, len(payListHeading(c)))
	if head.Seal == 0 {
		record[1] = c.Say("document.chain_unsealed", nil)
		return record
	}
	record[1] = c.Say("document.chain_head", payroll.Terms{"seal": strconv.FormatInt(head.Seal, 10), "at": head.At.UTC().Format(time.DateTime + " UTC")})
	record[len(record)-1] = head.Hash
	return record
}

func payListHeading(c *text.Catalogue) []string {
	var heading []string
	for _, name := range []string{"number", "worker", "week", "hours", "straight_time", "premiums", "other", "gross", "taxes", "deductions",
		"reimbursements", "net", "paid_by", "paid_on", "reference"} {
		heading = append(heading, plainCell(c.Say("document."+name, nil)))
	}
	return heading
}

func payListRecord(row PayListRow, c *text.Catalogue) []string {
	t := row.Totals
	record := []string{plainCell(row.Number), plainCell(row.Name), row.WeekStart.String(), hours(row.Worked)}
	for _, amount := range []payroll.Cents{t.StraightTime, t.Premiums, t.Other, t.Gross, t.Taxes, t.Deductions, t.Reimbursements, t.Net} {
		record = append(record, amount.String())
	}
	if p := row.Payment; p != nil {
		return append(record, plainCell(c.Word("payment", p.Method)), p.On.String(), plainCell(p.Reference))
	}
	return append(record, "", "", "")
}

// voidRecord says in the place of the payment that there is none, and why.
func voidRecord(row PayListRow, c *text.Catalogue) []string {
	record := make([]string, len(payListHeading(c)))
	copy(record, []string{plainCell(row.Number), plainCell(row.Name), row.WeekStart.String()})
	record[len(record)-3], record[len(record)-1] = c.Say("document.void", nil), plainCell(row.VoidReason)
	return record
}

func hours(m payroll.Minutes) string { return fmt.Sprintf("%d:%02d", m/60, m%60) }

func addTotals(a, b payroll.Totals) payroll.Totals {
	return payroll.Totals{
		StraightTime: a.StraightTime + b.StraightTime, Premiums: a.Premiums + b.Premiums, Other: a.Other + b.Other,
		Gross: a.Gross + b.Gross, Taxes: a.Taxes + b.Taxes, Deductions: a.Deductions + b.Deductions,
		Reimbursements: a.Reimbursements + b.Reimbursements, Net: a.Net + b.Net,
	}
}

// plainCell keeps a spreadsheet from running a text as a formula.
func plainCell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r\n", rune(s[0])) {
		return "'" + s
	}
	return s
}
