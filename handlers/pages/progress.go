package pages

import (
	"cmp"
	"html/template"
	"net/url"
	"strconv"

	"palmero/handlers/plot"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/models/progress"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// progressPages tell how the season goes.
func progressPages() []Page {
	return []Page{
		{Method: "GET", Path: "/progress", Roles: office, Nav: "page.nav.progress", handle: showProgress},
		{Method: "GET", Path: "/progress/weeks", Roles: office, handle: showWeeks},
	}
}

// progressPage is a season by operation, and one of its operations by block.
type progressPage struct {
	Season  *progress.Season
	Current bool                // whether it is this year's, which still goes on
	Chosen  *progress.Operation // nil where there was no work
	Plots   []gardenPlot
	Before  int // the season before
	After   int // the next one; 0 where that is yet to come
}

func showProgress(v *visit) (*answer, error) {
	var p progressPage
	err := v.view(func(tx *models.Tx) error {
		year, today, err := v.seasonAsked(tx)
		if err != nil {
			return err
		}
		p.Current, p.Before = year == today.Year(), year-1
		if year < today.Year() {
			p.After = year + 1
		}
		p.Season, err = progress.Read(tx, year)
		return err
	})
	if err != nil {
		return nil, err
	}
	if p.Chosen = p.Season.Operation(v.gin.Query("operation")); p.Chosen == nil {
		p.Chosen = p.Season.Main()
	}
	if p.Chosen != nil {
		p.Plots = v.plotBlocks(p.Chosen)
	}
	return show("progress", &p), nil
}

// seasonAsked is the year in the query, or this one.
func (v *visit) seasonAsked(tx *models.Tx) (year int, today dated.Date, err error) {
	if today, err = payrun.Today(tx); err != nil {
		return 0, today, err
	}
	if year, err = strconv.Atoi(v.gin.Query("season")); err != nil || year < 1990 || year > today.Year() {
		year = today.Year()
	}
	return year, today, nil
}

// gardenPlot is the picture of a garden's blocks.
type gardenPlot struct {
	Garden string
	Plot   template.HTML
}

// Several tells whether there is more than one garden, so that blocks have to be told apart by it.
func (p *progressPage) Several() bool { return len(p.Chosen.Gardens()) > 1 }

// plotBlocks draws how far an operation is in each block where something is to be expected, garden by garden.
func (v *visit) plotBlocks(op *progress.Operation) (plots []gardenPlot) {
	for i, garden := range op.Gardens() {
		if drawn := v.plotGarden(op, garden, "blocks"+strconv.Itoa(i)); drawn != "" {
			plots = append(plots, gardenPlot{garden, drawn})
		}
	}
	return plots
}

func (v *visit) plotGarden(op *progress.Operation, garden, id string) template.HTML {
	var bars []plot.Bar
	for _, b := range op.Blocks {
		if share := b.Share(); b.Garden == garden && share >= 0 {
			bars = append(bars, plot.Bar{Label: b.Code, Share: share, Figure: v.percent(share)})
		}
	}
	if len(bars) == 0 {
		return ""
	}
	terms := payroll.Terms{"operation": v.catalogue().Operation(op.Code)}
	return plot.Bars(plot.Words{ID: id, Title: v.say("page.progress.plot", terms), Text: v.say("page.progress.plot_text", nil)}, bars)
}

func (v *visit) percent(share int) string {
	return v.say("page.progress.percent", payroll.Terms{"share": share})
}

// weeksPage sets a season's weeks beside those of the season before.
type weeksPage struct {
	Year, LastYear int
	Chosen         *progress.Operation // of the season; nil where there is no work
	Others         []*progress.Operation
	Weeks          []twoWeeks
	Settled        dated.Date
	Plot           template.HTML
	Current        bool
}

// twoWeeks are the same week of two seasons, with what they add up to so far.
type twoWeeks struct {
	Number         int
	This, Last     progress.Week
	SoFar, LastFar payroll.Pieces
	Ahead          bool // whether it is yet to come in this season
}

func showWeeks(v *visit) (*answer, error) {
	var p weeksPage
	var this, last *progress.Season
	var today dated.Date
	err := v.view(func(tx *models.Tx) (err error) {
		if p.Year, today, err = v.seasonAsked(tx); err != nil {
			return err
		}
		p.LastYear, p.Current = p.Year-1, p.Year == today.Year()
		if this, err = progress.Read(tx, p.Year); err == nil {
			last, err = progress.Read(tx, p.LastYear)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	p.Others, p.Settled = this.Operations, this.Settled
	if p.Chosen = this.Operation(v.gin.Query("operation")); p.Chosen == nil {
		p.Chosen = this.Main()
	}
	if p.Chosen != nil {
		p.Weeks = pairWeeks(p.Chosen, cmp.Or(last.Operation(p.Chosen.Code), &progress.Operation{}), today)
		p.Plot = v.plotWeeks(&p)
	}
	return show("progress_weeks", p), nil
}

// pairWeeks sets the weeks of an operation beside those of a season before, by their number from the season's first, without the empty ones at both ends.
func pairWeeks(this, last *progress.Operation, today dated.Date) []twoWeeks {
	var pairs []twoWeeks
	var far, lastFar payroll.Pieces
	for n := range max(len(this.Weeks), len(last.Weeks)) {
		pair := twoWeeks{Number: n + 1}
		if n < len(this.Weeks) {
			pair.This = this.Weeks[n]
		}
		if n < len(last.Weeks) {
			pair.Last = last.Weeks[n]
		}
		far, lastFar = far+pair.This.Worked, lastFar+pair.Last.Worked
		pair.SoFar, pair.LastFar = far, lastFar
		pair.Ahead = n >= len(this.Weeks) && len(this.Weeks) > 0 && this.Weeks[0].Start.AddDays(7*n).After(today)
		if far+lastFar > 0 {
			pairs = append(pairs, pair)
		}
	}
	return pairs
}

func (v *visit) plotWeeks(p *weeksPage) template.HTML {
	var pairs []plot.Pair
	highest := payroll.Pieces(0)
	every := len(p.Weeks)/8 + 1
	for i, w := range p.Weeks {
		pair := plot.Pair{First: int64(w.This.Worked), Second: int64(w.Last.Worked)}
		if i%every == 0 {
			pair.Label = strconv.Itoa(w.Number)
		}
		highest = max(highest, w.This.Worked, w.Last.Worked)
		pairs = append(pairs, pair)
	}
	terms := payroll.Terms{"operation": v.catalogue().Operation(p.Chosen.Code), "year": strconv.Itoa(p.Year), "last": strconv.Itoa(p.LastYear)}
	words := plot.Words{ID: "weeks", Title: v.say("page.progress.weeks_plot", terms), Text: v.say("page.progress.weeks_plot_text", terms)}
	return plot.Columns(words, v.catalogue().Count(highest, p.Chosen.Unit), pairs)
}

// Query is the address of an operation's part of a season.
func (p progressPage) Query(op string) string { return seasonQuery(p.Season.Year, op) }

// Query is the address of an operation's part of a season.
func (p weeksPage) Query(op string) string { return seasonQuery(p.Year, op) }

func seasonQuery(year int, operation string) string {
	return "?" + url.Values{"season": {strconv.Itoa(year)}, "operation": {operation}}.Encode()
}
