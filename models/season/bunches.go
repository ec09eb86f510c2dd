package season

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/payroll/dated"
)

//go:embed bunches.yaml
var bunchesYAML []byte

// bunchData is what the garden asks of a bunch, and the samples that were looked at.
type bunchData struct {
	Reason    string
	Standards []standard
	Checks    []bunchCheck
}

type standard struct {
	Of, Variety string
	Points      []struct {
		Point, EN, ES, Unit string
		Low, High           int64
	}
}

type bunchCheck struct {
	At, Of, In, Remark string
	Crew               int
	Worker             int // 0: nobody is named
	Bunches            []string
}

// standardsFrom is the day from which the season's standards hold: its first day of work.
var standardsFrom = models.Day(dated.MustDate("2026-02-09"))

// planBunches has the administrator say what is asked, and the leads look at bunches.
func (s *seeding) planBunches() error {
	d, err := read[bunchData](bunchesYAML)
	if err != nil {
		return err
	}
	s.plan("2026-02-06 10:00", func() error {
		for i := range d.Standards {
			if err := s.setStandard(i+1, &d.Standards[i], d.Reason); err != nil {
				return err
			}
		}
		return nil
	})
	for i := range d.Checks {
		s.plan(d.Checks[i].At, func() error { return s.look(i+1, &d.Checks[i]) })
	}
	return nil
}

func (s *seeding) setStandard(n int, st *standard, reason string) error {
	c := models.WorkStandardContent{OperationID: s.operation(st.Of), Variety: st.Variety, EffectiveOn: standardsFrom}
	for _, p := range st.Points {
		point := models.StandardPoint{Point: p.Point, NameEN: p.EN, NameES: p.ES, Kind: models.YesNoPoint, Reason: reason}
		if p.Unit != "" {
			point.Kind, point.Unit, point.Low, point.High = models.NumberPoint, p.Unit, exactly(p.Low), exactly(p.High)
		}
		c.Points = append(c.Points, point)
	}
	return s.in(id(ofAccount, 1), func(tx *models.Tx) error {
		_, _, err := bunches.SetStandard(tx, id(ofStandard, n), c, models.Recording{RecordedAt: tx.Now})
		return err
	})
}

func (s *seeding) look(n int, k *bunchCheck) error {
	day := models.Day(dated.DateOf(s.clock.Now().In(s.loc)))
	return s.in(s.leadAccount(k.Crew), func(tx *models.Tx) error {
		block, err := models.Get[models.BlockContent](tx, s.block(k.In))
		if err != nil {
			return err
		}
		asked, err := bunches.InForce(tx, s.operation(k.Of), block.Content.Variety, day.Date)
		if err != nil {
			return err
		}
		l := bunches.Look{ID: id(ofBunchCheck, n), StandardID: asked.ID, CrewID: id(ofCrew, k.Crew), Workday: day, BlockID: block.ID, Remark: k.Remark, RecordedAt: tx.Now}
		if k.Worker > 0 {
			l.WorkerID = ref(id(ofWorker, k.Worker))
		}
		if l.Bunches, err = sampleOf(asked.Content.Points, k.Bunches); err != nil {
			return err
		}
		_, _, err = bunches.Record(tx, l)
		return err
	})
}

// sampleOf reads bunches as the season's data writes them.
func sampleOf(points models.StandardPoints, written []string) (sample models.SampledBunches, err error) {
	for _, w := range written {
		marks := strings.Fields(w)
		if len(marks) != len(points) {
			return nil, fmt.Errorf("%q has not a mark for each of %d points", w, len(points))
		}
		var b models.SampledBunch
		for i, m := range marks {
			mark := models.BunchMark{Point: points[i].Point}
			switch m {
			case "-":
				continue
			case "y", "n":
				mark.Yes = new(m == "y")
			default:
				n, err := strconv.ParseInt(m, 10, 64)
				if err != nil {
					return nil, err
				}
				mark.Number = exactly(n)
			}
			b.Marks = append(b.Marks, mark)
		}
		sample = append(sample, b)
	}
	return sample, nil
}
