package pages

import (
	"bytes"
	"html/template"
	"net/url"
	"strconv"
	"time"

	"palmero/handlers/documents"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
)

func payPaperPages() []Page {
	return []Page{
		{Method: "GET", Path: "/pay/{id}/list", Roles: office, handle: showPayList},
		{Method: "GET", Path: "/pay/{id}/print", Roles: office, handle: printStatements},
	}
}

// listedWhole is how many people a pay list shows on one page; where there are more, each crew has a page of its own.
const listedWhole = 200

// payListPage is a run on paper, crew by crew, with room for a signature.
type payListPage struct {
	Run   *payrun.RunBrief
	Crews []listedCrew // shown
	All   []listedCrew // to choose from, where the list has several pages
	Head  *models.AuditSeal
	Zone  *time.Location
}

// listedCrew is a crew on a pay list.
type listedCrew struct {
	Number     int64 // 0: those of no crew
	Name       string
	People     []payrun.Listed
	Gross, Net payroll.Cents
	Worked     payroll.Minutes
}

func showPayList(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page payListPage
	var rows []payrun.Listed
	err = v.view(func(tx *models.Tx) (err error) {
		if page.Run, err = payrun.ReadRun(tx, id); err != nil {
			return err
		}
		if rows, err = payrun.PayList(tx, &page.Run.Run); err != nil {
			return err
		}
		if page.Zone, err = payrun.HomeZone(tx); err == nil && page.Run.State != payrun.Draft {
			page.Head, err = models.AuditHead(tx)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	page.Crews = byCrew(rows)
	if len(rows) > listedWhole {
		page.All = page.Crews
		page.Crews = onlyCrew(page.Crews, v.gin.Query("crew"))
	}
	return show("pay_list", &page), nil
}

// byCrew puts a pay list under its crews, and adds each up.
func byCrew(rows []payrun.Listed) (crews []listedCrew) {
	for _, r := range rows {
		if n := len(crews); n == 0 || crews[n-1].Number != r.CrewNumber {
			crews = append(crews, listedCrew{Number: r.CrewNumber, Name: r.CrewName})
		}
		c := &crews[len(crews)-1]
		c.People = append(c.People, r)
		c.Gross, c.Net, c.Worked = c.Gross+r.Gross, c.Net+r.Net, c.Worked+r.WorkedMinutes
	}
	return crews
}

// onlyCrew keeps the crew with a number, or the first.
func onlyCrew(crews []listedCrew, number string) []listedCrew {
	for _, c := range crews {
		if strconv.FormatInt(c.Number, 10) == number {
			return []listedCrew{c}
		}
	}
	return crews[:1]
}

// How many statements a page to print has, so that it stays light; and how many of a crew where it is asked for whole.
const (
	statementsOnPaper = 5
	crewOnPaper       = 60
)

// printPage are statements one after the other, each on a sheet of its own.
type printPage struct {
	Run    *payrun.RunBrief
	Crews  []payrun.RunCrew
	Crew   *payrun.RunCrew // whose statements these are; nil: everybody's
	Whole  bool            // whether the crew was asked for whole
	Bodies []template.HTML
	More   int64 // the number after which more follow; 0: none do
}

// crewOf is the crew with a number; nil where there is none.
func crewOf(crews []payrun.RunCrew, number string) *payrun.RunCrew {
	for i := range crews {
		if strconv.FormatInt(crews[i].Number, 10) == number {
			return &crews[i]
		}
	}
	return nil
}

// Next is the address of the statements after those that are shown.
func (p *printPage) Next() string {
	query := url.Values{"after": {strconv.FormatInt(p.More, 10)}}
	if p.Crew != nil {
		query.Set("crew", strconv.FormatInt(p.Crew.Number, 10))
	}
	if p.Whole {
		query.Set("whole", "yes")
	}
	return "?" + query.Encode()
}

func printStatements(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page printPage
	var sheets []*payrun.Sheet
	err = v.view(func(tx *models.Tx) (err error) {
		if page.Run, err = payrun.ReadRun(tx, id); err != nil {
			return err
		}
		if page.Crews, err = payrun.RunCrews(tx, &page.Run.Run); err != nil {
			return err
		}
		var only *int64
		atOnce := statementsOnPaper
		if page.Crew = crewOf(page.Crews, v.gin.Query("crew")); page.Crew != nil {
			only = &page.Crew.Number
			if page.Whole = v.gin.Query("whole") != ""; page.Whole {
				atOnce = crewOnPaper
			}
		}
		sheets, page.More, err = payrun.SheetsOf(tx, &page.Run.Run, only, v.number("after"), atOnce)
		return err
	})
	if err != nil {
		return nil, err
	}
	for _, sheet := range sheets {
		var b bytes.Buffer
		one := documents.SheetOf(sheet)
		one.Among = true
		if err := documents.StatementBody(&b, one, v.catalogue()); err != nil {
			return nil, err
		}
		page.Bodies = append(page.Bodies, template.HTML(b.String()))
	}
	return show("pay_print", &page), nil
}
