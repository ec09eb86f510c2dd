package pages

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// ratesPages show what a piece and an hour are paid at, and record new rates. A rate that was recorded stays; the later one holds from its day on.
func ratesPages() []Page {
	return []Page{
		{Method: "GET", Path: "/rates", Roles: office, Nav: "page.nav.rates", Under: "/set-up", handle: func(v *visit) (*answer, error) {
			return ratesPage(v, newForm(map[string]string{"number": v.gin.Query("number")}))
		}},
		{Method: "POST", Path: "/rates", Roles: office, handle: recordPieceRate},
		{Method: "POST", Path: "/rates/hourly", Roles: office, handle: recordHourlyRate},
	}
}

// ratesList is the rates in force and those to come.
type ratesList struct {
	Today      dated.Date
	Pieces     []shownRate
	Hours      []shownRate
	Operations []Option
	Places     []Option
}

// shownRate is a rate with what it is for. Who is "" where it is everybody's.
type shownRate struct {
	Operation, Block, Variety, Who string
	Number                         int64
	Rate                           payroll.Rate
	From                           dated.Date
	ToCome                         bool
}

func ratesPage(v *visit, f *Form) (*answer, error) {
	var list ratesList
	err := v.view(func(tx *models.Tx) (err error) {
		if list.Today, err = payrun.Today(tx); err != nil {
			return err
		}
		if err = list.readPieces(tx, v); err != nil {
			return err
		}
		return list.readHours(tx)
	})
	if err != nil {
		return nil, err
	}
	return show("rates", &list).with(f), nil
}

// readPieces reads the piece rates, and what a new one can be for.
func (l *ratesList) readPieces(tx *models.Tx, v *visit) error {
	operations, err := models.All[models.OperationContent](tx)
	if err != nil {
		return err
	}
	blocks, err := models.All[models.BlockContent](tx)
	if err != nil {
		return err
	}
	l.offer(v, operations, blocks)
	var rates []models.PieceRate
	if err := tx.DB().Scopes(models.Standing(true)).Order("seq").Find(&rates).Error; err != nil {
		return err
	}
	reach := func(c *models.PieceRateContent) string {
		if c.BlockID != nil {
			return c.OperationID.String() + c.BlockID.String()
		}
		return c.OperationID.String() + c.Variety
	}
	for _, r := range inForce(rates, l.Today, reach, func(c *models.PieceRateContent) dated.Date { return c.EffectiveOn.Date }) {
		one := shownRate{Variety: r.Variety, Rate: r.Rate, From: r.EffectiveOn.Date, ToCome: r.EffectiveOn.After(l.Today)}
		if o := operations[r.OperationID]; o != nil {
			one.Operation = o.Content.Code
		}
		if r.BlockID != nil && blocks[*r.BlockID] != nil {
			one.Block = blocks[*r.BlockID].Content.Code
		}
		l.Pieces = append(l.Pieces, one)
	}
	slices.SortStableFunc(l.Pieces, func(a, b shownRate) int {
		return cmp.Or(cmp.Compare(a.Operation, b.Operation), cmp.Compare(a.Variety, b.Variety), cmp.Compare(a.Block, b.Block), a.From.Compare(b.From))
	})
	return nil
}

// variety marks a place that is a variety, wherever it stands.
const variety = "variety:"

// offer lists the operations, and the places a rate can be for: everywhere, a variety, or a block.
func (l *ratesList) offer(v *visit, operations map[uuid.UUID]*models.Operation, blocks map[uuid.UUID]*models.Block) {
	for _, o := range operations {
		l.Operations = append(l.Operations, Option{Value: o.ID.String(), Label: v.until(v.catalogue().Operation(o.Content.Code), o.Content.Ending, l.Today)})
	}
	var varieties, single []Option
	for _, b := range blocks {
		one := Option{Value: variety + b.Content.Variety, Label: v.say("page.rates.variety", payroll.Terms{"variety": b.Content.Variety})}
		if b.Content.Variety != "" && !slices.Contains(varieties, one) {
			varieties = append(varieties, one)
		}
		block := v.say("page.rates.block", payroll.Terms{"block": b.Content.Code})
		single = append(single, Option{Value: b.ID.String(), Label: v.until(block, b.Content.Ending, l.Today)})
	}
	for _, options := range [][]Option{l.Operations, varieties, single} {
		slices.SortFunc(options, func(a, b Option) int { return cmp.Compare(a.Label, b.Label) })
	}
	l.Places = slices.Concat([]Option{{Label: v.say("page.rates.everywhere", nil)}}, varieties, single)
}

// readHours reads the hourly rates, everybody's first.
func (l *ratesList) readHours(tx *models.Tx) error {
	var rates []models.HourlyRate
	if err := tx.DB().Scopes(models.Standing(true)).Order("seq").Find(&rates).Error; err != nil {
		return err
	}
	reach := func(c *models.HourlyRateContent) string {
		if c.WorkerID == nil {
			return ""
		}
		return c.WorkerID.String()
	}
	held := inForce(rates, l.Today, reach, func(c *models.HourlyRateContent) dated.Date { return c.EffectiveOn.Date })
	var ids []uuid.UUID
	for _, r := range held {
		if r.WorkerID != nil {
			ids = append(ids, *r.WorkerID)
		}
	}
	var workers []models.Worker
	if err := tx.DB().Scopes(tx.Among("id", ids)).Find(&workers).Error; err != nil {
		return err
	}
	of := models.KeptByID(workers)
	for _, r := range held {
		one := shownRate{Rate: r.Rate, From: r.EffectiveOn.Date, ToCome: r.EffectiveOn.After(l.Today)}
		if r.WorkerID != nil && of[*r.WorkerID] != nil {
			one.Who, one.Number = of[*r.WorkerID].Content.Name, of[*r.WorkerID].Content.Number
		}
		l.Hours = append(l.Hours, one)
	}
	slices.SortStableFunc(l.Hours, func(a, b shownRate) int { return cmp.Or(cmp.Compare(a.Number, b.Number), a.From.Compare(b.From)) })
	return nil
}

// inForce keeps of rates, which come in the order in which they were recorded, what holds today and what begins later: of each reach the latest by today, and of each later
// day the last that was recorded, as pay runs choose them.
func inForce[C any](rates []models.Recorded[C], today dated.Date, reach func(*C) string, from func(*C) dated.Date) (held []*C) {
	at := map[string]int{}
	for i := range rates {
		c := &rates[i].Content
		key := reach(c)
		if from(c).After(today) {
			key += " " + from(c).String()
		}
		n, known := at[key]
		switch {
		case !known:
			at[key] = len(held)
			held = append(held, c)
		case !from(c).Before(from(held[n])):
			held[n] = c
		}
	}
	return held
}

// recordPieceRate records what a piece is paid at from a day on.
func recordPieceRate(v *visit) (*answer, error) {
	f, err := v.form("operation_id", "place", "rate", "effective_on")
	if err != nil {
		return nil, err
	}
	c := models.PieceRateContent{OperationID: f.Ref("operation_id"), Rate: f.Rate("rate"), EffectiveOn: models.Day(f.Day("effective_on"))}
	if name, ok := strings.CutPrefix(f.Value("place"), variety); ok {
		c.Variety = name
	} else if block := f.Ref("place"); block != uuid.Nil {
		c.BlockID = &block
	}
	f.needDay("effective_on")
	return keepRate(v, f, c.EffectiveOn.Date, func(tx *models.Tx) error {
		_, _, err := models.Record(tx, f.ID, c, models.Recording{RecordedAt: tx.Now})
		return inForm(err, "/block_id", "/place", "/variety", "/place")
	})
}

// recordHourlyRate records what an hour is paid at from a day on: everybody's, or one worker's.
func recordHourlyRate(v *visit) (*answer, error) {
	f, err := v.form("number", "hourly_rate", "hourly_from")
	if err != nil {
		return nil, err
	}
	number := f.Whole("number")
	c := models.HourlyRateContent{Rate: f.Rate("hourly_rate"), EffectiveOn: models.Day(f.Day("hourly_from"))}
	f.needDay("hourly_from")
	return keepRate(v, f, c.EffectiveOn.Date, func(tx *models.Tx) error {
		if f.Value("number") != "" {
			w, err := workerByNumber(tx, number)
			if err != nil {
				return err
			}
			if w == nil {
				return models.FaultAt("/number", "page.fault.no_such_worker", payroll.Terms{"number": strconv.FormatInt(number, 10)})
			}
			c.WorkerID = &w.ID
		}
		_, _, err := models.Record(tx, f.ID, c, models.Recording{RecordedAt: tx.Now})
		return inForm(err, "/rate", "/hourly_rate", "/effective_on", "/hourly_from")
	})
}

// needDay wants a day to be said.
func (f *Form) needDay(name string) {
	if f.Value(name) == "" {
		f.fault(name, "page.fault.day_needed", nil)
	}
}

// keepRate carries out what a form of rates asks, and says where it reaches back over days that may be paid.
func keepRate(v *visit, f *Form, from dated.Date, record func(*models.Tx) error) (*answer, error) {
	done := "rate_kept"
	err := f.Faulty()
	if err == nil {
		err = v.in(func(tx *models.Tx) error {
			today, err := payrun.Today(tx)
			if err != nil {
				return err
			}
			if from.Before(today) {
				done = "rate_back"
			}
			return record(tx)
		})
	}
	if err != nil {
		return v.again(f, err, ratesPage)
	}
	return seeOther("/rates", done), nil
}
