package documents

import (
	"strconv"
	"strings"

	"palmero/models/payrun"
)

// SheetOf turns a kept statement into what its page shows. A statement is paid as soon as its own payment is recorded, whatever is still
// to be paid in the run.
func SheetOf(s *payrun.Sheet) StatementSheet {
	h := s.Heading
	sheet := StatementSheet{
		Statement: &s.Figures, ID: s.Row.ID.String(), Run: strconv.FormatInt(s.Run.Number, 10), State: State(s.Run.State), Payment: PaymentOf(&s.Row),
		Employer:    Party{Name: h.Employer.LegalName, Address: lines(h.Employer.Address), TaxNumber: h.Employer.TaxNumber},
		EngagedBy:   engaging(h.EngagedBy),
		Worker:      Party{Name: h.Worker.Name, Number: strconv.FormatInt(h.Worker.Number, 10), Address: lines(h.Worker.Address)},
		PeriodFirst: s.Row.WeekStart.Date, PeriodLast: s.Row.WeekStart.AddDays(6), Payday: h.Payday.Date,
		Gardens: h.Gardens, RulebookTitle: h.RulebookTitle, RulebookDigest: h.RulebookDigest,
	}
	if s.Row.ReissueOf != nil {
		sheet.Replaces = s.Row.ReissueOf.String()
	}
	sheet.HoursOffered = h.HoursOffered
	if l := h.SickLeave; l != nil {
		sheet.SickLeave = &SickLeave{Balance: l.Balance, Used: l.Used, UsedThisYear: l.UsedThisYear, Paid: l.Paid, UsableFrom: l.UsableFrom.Date}
	}
	switch {
	case s.Row.VoidedAt != nil:
		sheet.State, sheet.VoidReason = Void, s.Row.VoidReason
	case sheet.Payment != nil:
		sheet.State = Paid
	case sheet.State == Paid:
		sheet.State = Approved
	}
	for _, d := range s.Detail {
		sheet.Days = append(sheet.Days, DetailRow{
			Date: d.Date, Start: d.Start, Stop: d.Stop, Kind: d.Kind, Minutes: d.Minutes, Operation: d.Operation, Block: d.Block,
			Pieces: d.Pieces, Part: d.Part, Unit: d.Unit, Rate: d.Rate,
		})
	}
	return sheet
}

func lines(address string) []string {
	if address == "" {
		return nil
	}
	return strings.Split(address, "\n")
}

// engaging are those who engaged the employer.
func engaging(all []payrun.Engaging) []Party {
	parties := make([]Party, len(all))
	for i, e := range all {
		parties[i] = Party{Name: e.Name, Address: lines(e.Address)}
	}
	return parties
}

// PaymentOf is how and when a kept statement was paid; nil where it was not.
func PaymentOf(r *payrun.StatementRow) *Payment {
	if r.PaidOn.IsZero() {
		return nil
	}
	return &Payment{On: r.PaidOn.Date, Method: r.PaidMethod, Reference: r.PaidReference}
}
