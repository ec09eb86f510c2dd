package season

import (
	"bytes"
	_ "embed"
	"fmt"
	"time"

	"go.yaml.in/yaml/v3"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

//go:embed season.yaml
var seasonYAML []byte

//go:embed weeks.yaml
var weeksYAML []byte

// data is what the two files say.
type data struct {
	Employer struct {
		SignInName       string `yaml:"sign_in_name"`
		LegalName        string `yaml:"legal_name"`
		Address          string
		TaxNumber        string `yaml:"tax_number"`
		InsuranceCarrier string `yaml:"insurance_carrier"`
		Size             int64
	}
	Garden struct {
		Name     string
		TimeZone string `yaml:"time_zone"`
		Rulebook string
	}
	Blocks     []block
	Operations []operation
	PieceRates []struct {
		Operation string
		Variety   string
		Block     string
		Rate      payroll.Rate
	} `yaml:"piece_rates"`
	HourlyRates []struct {
		Worker int
		Rate   payroll.Rate
	} `yaml:"hourly_rates"`
	Crews []struct {
		Name    string
		Members []int
	}
	Workers []struct {
		Number   int
		Name     string
		Street   string
		Born     dated.Date
		Language string
		Started  dated.Date
		Pace     int
	}
	Accounts []account
}

type block struct {
	Code      string
	Variety   string
	Palms     int64
	TallestCM int64 `yaml:"tallest_cm"`
	Bunches   int64 // expected on one palm
}

type operation struct {
	Code       string
	Unit       string
	DailyLimit payroll.Pieces `yaml:"daily_limit"`
	Usual      int
}

type account struct {
	SignInName string `yaml:"sign_in_name"`
	Name       string
	Role       models.Role
	Language   string
	Worker     int
}

// calendar is what the crews did and when it was paid.
type calendar struct {
	Shapes map[string][]string
	Runs   []payment
	Days   []crewDay
}

// payment is a pay run's way from the draft to the last check, at times on the garden's clock.
type payment struct {
	Week                    dated.Date
	Drafted, Approved, Paid string
	FirstCheck              int `yaml:"first_check"`
	Decision                string
}

// crewDay is a crew's sheet in short, with what was out of the ordinary.
type crewDay struct {
	Day    dated.Date
	Crew   int
	Shape  string
	Work   []work
	Absent []int
	Only   []int // who was there, where that was not the crew
	Counts []struct {
		Worker int
		Of     string
		Pieces payroll.Pieces
	}
	NoMeal       []int  `yaml:"no_meal"`        // no meal period was recorded
	NoSecondRest []int  `yaml:"no_second_rest"` // the last rest period was not provided
	NoRestTold   []int  `yaml:"no_rest_told"`   // the last rest period is not recorded, and nobody said why
	ForgotToStop []int  `yaml:"forgot_to_stop"` // or has not stopped yet
	NewHand      string `yaml:"new_hand"`       // somebody whom the lead knew by name only
}

// work is an operation in a block; a lot is counted together.
type work struct {
	Of, In string
	Lot    bool
}

func read[T any](text []byte) (*T, error) {
	var into T
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&into); err != nil {
		return nil, fmt.Errorf("the season's data: %w", err)
	}
	return &into, nil
}

// clockTime reads a time such as "2026-02-16 10:05" on the clock of a place.
func clockTime(s string, loc *time.Location) (time.Time, error) {
	return time.ParseInLocation("2006-01-02 15:04", s, loc)
}
