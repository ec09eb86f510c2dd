package imports

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// field is one thing that a column may say.
type field struct {
	name     string
	required bool
	headings []string // the usual ones, folded
}

// fields by kind of file. Who did the work may be told in one column, by number or name, or in two.
var fields = map[Kind][]field{
	CrewSheets: {
		{"worker", false, []string{"worker", "employee", "trabajador", "trabajadora", "empleado", "who", "picker"}},
		{"worker_number", false, []string{"worker no", "worker number", "employee no", "employee number", "emp no", "emp id", "no", "num", "numero", "no trabajador", "numero de trabajador", "clave"}},
		{"worker_name", false, []string{"worker name", "employee name", "name", "nombre", "nombre del trabajador"}},
		{"date", true, []string{"date", "day", "workday", "work date", "fecha", "dia"}},
		{"crew", false, []string{"crew", "cuadrilla"}},
		{"garden", false, []string{"garden", "ranch", "huerta", "rancho"}},
		{"block", false, []string{"block", "blk", "field", "bloque", "lote", "cuadro"}},
		{"operation", false, []string{"operation", "job", "task", "work", "labor", "operacion", "tarea", "actividad"}},
		{"pieces", false, []string{"pieces", "count", "units", "qty", "quantity", "piezas", "cuenta", "cantidad", "unidades"}},
		{"kind", false, []string{"kind", "kind of time", "pay type", "tipo", "tipo de tiempo"}},
		{"start", false, []string{"start", "start time", "time in", "in", "from", "inicio", "entrada", "hora de entrada"}},
		{"end", false, []string{"end", "end time", "time out", "out", "stop", "to", "fin", "salida", "hora de salida"}},
		{"meal_start", false, []string{"meal start", "lunch start", "lunch out", "meal out", "inicio comida", "inicio de comida"}},
		{"meal_end", false, []string{"meal end", "lunch end", "lunch in", "meal in", "fin comida", "fin de comida"}},
		{"hours", false, []string{"hours", "hrs", "horas"}},
		{"piece_minutes", false, []string{"piece minutes", "minutos a destajo"}},
		{"hourly_minutes", false, []string{"hourly minutes", "minutos por hora"}},
		{"nonproductive_minutes", false, []string{"nonproductive minutes", "waiting minutes", "minutos no productivos", "minutos de espera"}},
		{"rest_minutes", false, []string{"rest minutes", "break minutes", "minutos de descanso"}},
		{"recovery_minutes", false, []string{"recovery minutes", "minutos de recuperacion"}},
		{"meal_minutes", false, []string{"meal minutes", "lunch minutes", "minutos de comida"}},
		{"meal_on_duty_minutes", false, []string{"meal on duty minutes"}},
		{"lot", false, []string{"lot", "shared lot", "cuenta comun", "lote comun"}},
		{"lot_minutes", false, []string{"lot minutes", "minutos en el lote"}},
		{"share", false, []string{"share", "parte", "proporcion"}},
		{"not_provided", false, []string{"not provided", "periods not provided", "missed", "missed breaks", "no dados", "descansos no dados"}},
		{"waived", false, []string{"waived", "meals waived", "renunciadas"}},
	},
	Workers: {
		{"number", false, []string{"number", "no", "worker no", "worker number", "numero", "clave"}},
		{"name", true, []string{"name", "worker", "worker name", "nombre", "trabajador"}},
		{"address", true, []string{"address", "domicilio", "direccion"}},
		{"birth_date", false, []string{"birth date", "date of birth", "born", "dob", "fecha de nacimiento", "nacimiento"}},
		{"language", false, []string{"language", "idioma"}},
		{"started_on", true, []string{"started on", "start date", "hired", "hire date", "fecha de ingreso", "ingreso"}},
		{"ended_on", false, []string{"ended on", "end date", "left", "fecha de salida"}},
	},
	Blocks: {
		{"garden", false, []string{"garden", "ranch", "huerta", "rancho"}},
		{"code", true, []string{"code", "block", "bloque", "cuadro", "lote"}},
		{"variety", true, []string{"variety", "variedad"}},
		{"palms", true, []string{"palms", "trees", "palmas", "arboles"}},
		{"tallest_cm", true, []string{"tallest cm", "height cm", "tallest", "altura cm", "altura maxima cm"}},
		{"bunches_per_palm", false, []string{"bunches per palm", "bunches", "racimos por palma", "racimos"}},
	},
	PieceRates: {
		{"operation", true, []string{"operation", "job", "task", "operacion", "tarea", "labor"}},
		{"garden", false, []string{"garden", "ranch", "huerta", "rancho"}},
		{"block", false, []string{"block", "bloque", "cuadro", "lote"}},
		{"variety", false, []string{"variety", "variedad"}},
		{"rate", true, []string{"rate", "price", "pay", "tarifa", "precio", "pago"}},
		{"effective_on", true, []string{"effective on", "effective", "from", "since", "desde", "vigente desde"}},
	},
	HourlyRates: {
		{"worker", false, []string{"worker", "employee", "trabajador", "empleado"}},
		{"worker_number", false, []string{"worker no", "worker number", "number", "no", "numero"}},
		{"worker_name", false, []string{"worker name", "name", "nombre"}},
		{"rate", true, []string{"rate", "hourly rate", "pay", "tarifa", "pago", "pago por hora"}},
		{"effective_on", true, []string{"effective on", "effective", "from", "since", "desde", "vigente desde"}},
	},
}

func fieldNames(kind Kind) []string {
	var names []string
	for _, f := range fields[kind] {
		names = append(names, f.name)
	}
	return names
}

// fold is a text as it is compared: small letters without accents, words parted by one space.
func fold(s string) string {
	var b strings.Builder
	gap := false
	for _, r := range norm.NFD.String(s) {
		switch {
		case unicode.Is(unicode.Mn, r):
		case unicode.IsLetter(r), unicode.IsDigit(r):
			if gap && b.Len() > 0 {
				b.WriteByte(' ')
			}
			gap = false
			b.WriteRune(unicode.ToLower(r))
		default:
			gap = true
		}
	}
	return b.String()
}
