package season

import (
	_ "embed"

	"palmero/models"
	"palmero/payroll/dated"
)

//go:embed safety.yaml
var safetyYAML []byte

// safetyData is what the file of the garden's safety says. Ratings and setups are JSON texts.
type safetyData struct {
	Palms struct {
		Block, Prefix       string
		First, Last, Digits int64
	}
	CompetentPerson string `yaml:"competent_person"`
	Equipment       []piece
	GearKinds       []gearKind `yaml:"gear_kinds"`
	Meetings        []meeting
	Before          []meeting
	Ways            []way
	Seen            string
	Morning         int64 `yaml:"morning_f"`
	Forecast        int64 `yaml:"forecast_f"`
	HotDay          struct {
		Day         dated.Date
		Forecast    int64 `yaml:"forecast_f"`
		Readings    map[string]int64
		LookedAgain string `yaml:"looked_again"`
	} `yaml:"hot_day"`
}

type piece struct {
	Code, Description, Palm string
	Kind                    models.EquipmentKind
	Crew                    int      // 0: of no crew alone
	Ways                    []string // the blocks on whose palms it is used
	Periodic                dated.Date
	Ratings                 string
}

type gearKind struct {
	Name, Size, Kind string
	Protective       bool
	Puncture         *int64
	Sheathed         *bool
	Received         int64
	LowAt            *int64 `yaml:"low_at"`
	For              string // "everybody", or those of "odd" or "even" numbers; "": nobody
}

// fits tells whether a worker of a number is handed one.
func (k *gearKind) fits(worker int) bool {
	return k.For == "everybody" || k.For == "odd" && worker%2 == 1 || k.For == "even" && worker%2 == 0
}

type meeting struct {
	Topic, Detail string
	Held          dated.Date
	Crews, But    []int
	Worker        int
}

type way struct {
	Way    string
	Blocks []string
	Setup  string
}
