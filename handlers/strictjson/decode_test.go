package strictjson

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

type stamp struct {
	By string `json:"by"`
}

type color string

func (c *color) UnmarshalText(b []byte) error {
	if string(b) != "green" && string(b) != "brown" {
		return errors.New("no such color")
	}
	*c = color(b)
	return nil
}

type sample struct {
	stamp
	Name   string                   `json:"name"`
	Count  int                      `json:"count"`
	Small  int8                     `json:"small,omitempty"`
	Tiny   uint8                    `json:"tiny,omitempty"`
	Done   bool                     `json:"done,omitempty"`
	Date   dated.Date               `json:"date,omitempty"`
	Rate   *payroll.Rate            `json:"hourly_rate,omitempty"`
	Cents  payroll.Cents            `json:"cents,omitempty"`
	At     *time.Time               `json:"at,omitempty"`
	ID     uuid.UUID                `json:"id,omitempty"`
	Color  color                    `json:"color,omitempty"`
	List   []payroll.Minutes        `json:"list,omitempty"`
	Inner  []inner                  `json:"inner,omitempty"`
	ByName map[string]payroll.Cents `json:"by_name,omitempty"`
	Self   *sample                  `json:"self,omitempty"`
	Note   *string                  `json:"note"`
	hidden int
	Not    int `json:"-"`
}

type inner struct {
	Slash int `json:"a/b~c"`
}

type counted struct {
	Pieces payroll.Pieces `json:"pieces"`
}

func TestDecodeReads(t *testing.T) {
	rate, note := payroll.Rate(11500), "é\n"
	at := time.Date(2026, 2, 16, 6, 0, 0, 0, time.FixedZone("", -8*3600))
	want := sample{
		stamp: stamp{By: "Ana"}, Name: "garden", Count: -3, Small: 127, Tiny: 255, Done: true, Date: dated.MustDate("2026-02-16"),
		Rate: &rate, Cents: 1240, At: &at, ID: uuid.MustParse("01890a5d-ac96-774b-bcce-b302099a8057"), Color: "green",
		List: []payroll.Minutes{1, 2, 3, 4, 5, 6}, Inner: []inner{{Slash: 1}}, ByName: map[string]payroll.Cents{"x": 5},
		Self: &sample{stamp: stamp{By: ""}, Name: "n"}, Note: &note,
	}
	got := sample{List: []payroll.Minutes{9}, hidden: 0}
	faults := Decode([]byte(` {"by":"Ana","name":"g\u0061rden","count":-3,"small":127,"tiny":255,"done":true,"date":"2026-02-16",
		"hourly_rate":"1.15","cents":"12.40","at":"2026-02-16T06:00:00-08:00","id":"01890a5d-ac96-774b-bcce-b302099a8057",
		"color":"green","list":[1,2,3,4,5,6],"inner":[{"a/b~c":1}],"by_name":{"x":"0.05"},
		"self":{"by":"","name":"n","count":0,"note":null,"at":null,"list":null,"small":null},"note":"é\n"} `), &got)
	if len(faults) > 0 {
		t.Fatalf("faults %v", faults)
	}
	if diff := cmp.Diff(want, got, cmp.AllowUnexported(sample{}, stamp{}), cmp.Comparer(func(a, b dated.Date) bool { return a == b })); diff != "" {
		t.Error(diff)
	}
}

func TestDecodeCountsAsTextOrInteger(t *testing.T) {
	for in, want := range map[string]payroll.Pieces{`160`: 160_000, `"160"`: 160_000, `"12.5"`: 12_500} {
		var c counted
		if faults := Decode([]byte(`{"pieces":`+in+`}`), &c); len(faults) > 0 || c.Pieces != want {
			t.Errorf("%s: %v, %v", in, c.Pieces, faults)
		}
	}
}

// told writes faults shortly: pointer, key without its prefix, and the terms.
func told(faults []payroll.Fault) []string {
	var out []string
	for _, f := range faults {
		s := f.Pointer + " " + strings.TrimPrefix(f.Key, "input.")
		if len(f.Terms) > 0 {
			terms, _ := json.Marshal(map[string]any(f.Terms))
			s += " " + string(terms)
		}
		out = append(out, s)
	}
	return out
}

func TestDecodeRefuses(t *testing.T) {
	const ok = `"by":"","name":"","count":1,"note":null`
	for _, tc := range []struct {
		name, in string
		want     []string
	}{
		{"nothing", "", []string{` empty {"column":1,"line":1,"offset":0}`}},
		{"blank", " \n ", []string{` empty {"column":2,"line":2,"offset":3}`}},
		{"no object", `[]`, []string{` want_object {"found":"list"}`}},
		{"null", `null`, []string{` null`}},
		{"all missing", `{}`, []string{`/name missing {"field":"name"}`, `/count missing {"field":"count"}`, `/note missing {"field":"note"}`, `/by missing {"field":"by"}`}},
		{"unknown", `{` + ok + `,"x/~y":[{"z":1}]}`, []string{`/x~1~0y unknown {"field":"x/~y"}`}},
		{"hidden", `{` + ok + `,"hidden":1,"Not":1,"-":1}`, []string{`/hidden unknown {"field":"hidden"}`, `/Not unknown {"field":"Not"}`, `/- unknown {"field":"-"}`}},
		{"unknown twice", `{` + ok + `,"x":1,"x":1}`, []string{`/x unknown {"field":"x"}`, `/x duplicate {"field":"x"}`}},
		{"miscased", `{"by":"","Name":"","count":1,"note":null,"hourlyRate":"1"}`, []string{
			`/Name unknown_meant {"field":"Name","meant":"name"}`, `/hourlyRate unknown_meant {"field":"hourlyRate","meant":"hourly_rate"}`}},
		{"duplicate", `{` + ok + `,"name":"","n\u0061me":""}`, []string{`/name duplicate {"field":"name"}`, `/name duplicate {"field":"name"}`}},
		{"duplicate in map", `{` + ok + `,"by_name":{"a":"1","a":"2"}}`, []string{`/by_name/a duplicate {"field":"a"}`}},
		{"kinds", `{"by":1,"name":null,"count":"1","note":[],"small":128,"tiny":-1,"done":"yes","date":5,"hourly_rate":1.15,
			"cents":{},"at":0,"id":true,"color":"red","list":[1,null,1.5,1e3,99999999999999999999],"inner":[{"a/b~c":""},7],"by_name":[],"self":""}`, []string{
			`/by want_text {"found":"number"}`, `/name null`, `/count want_integer {"found":"string"}`, `/note want_text {"found":"list"}`,
			`/small integer_range {"value":"128"}`, `/tiny integer_range {"value":"-1"}`, `/done want_boolean {"found":"string"}`,
			`/date want_date {"found":"number"}`, `/hourly_rate want_decimal {"found":"number"}`, `/cents want_decimal {"found":"object"}`,
			`/at want_time {"found":"number"}`, `/id want_uuid {"found":"boolean"}`, `/color not_understood {"value":"red"}`,
			`/list/1 null`, `/list/2 not_whole {"value":"1.5"}`, `/list/3 not_whole {"value":"1e3"}`,
			`/list/4 integer_range {"value":"99999999999999999999"}`, `/inner/0/a~1b~0c want_integer {"found":"string"}`,
			`/inner/1 want_object {"found":"number"}`, `/by_name want_object {"found":"list"}`, `/self want_object {"found":"string"}`}},
		{"texts", `{` + ok + `,"date":"2026-02-30","hourly_rate":"1.23456","cents":"a","at":"2026-02-16T06:00:00","id":"{01890a5d-ac96-774b-bcce-b302099a8057}",
			"by_name":{"x":"99999999999.00"}}`, []string{
			`/date not_date {"value":"2026-02-30"}`, `/hourly_rate decimals {"places":4,"value":"1.23456"}`, `/cents not_decimal {"value":"a"}`,
			`/at not_time {"value":"2026-02-16T06:00:00"}`, `/id not_uuid {"value":"{01890a5d-ac96-774b-bcce-b302099a8057}"}`, `/by_name/x out_of_range`}},
		{"trailing", `{` + ok + `} {}`, []string{` trailing {"column":43,"line":1,"offset":42}`}},
		{"trailing garbage", `{` + ok + "}\n}", []string{` trailing {"column":1,"line":2,"offset":42}`}},
		{"truncated", `{"by":"", "list":[1,` + "\n", []string{`/list truncated {"column":1,"line":2,"offset":21}`}},
		{"malformed", "{\n  'by': 1}", []string{` syntax {"column":3,"line":2,"offset":4}`}},
		{"faults before malformed", `{"count":"", "é":nil}`, []string{`/count want_integer {"found":"string"}`, `/é unknown {"field":"é"}`, `/é syntax {"column":19,"line":1,"offset":19}`}},
		{"trailing comma", `{"list":[1,]}`, []string{`/list syntax {"column":11,"line":1,"offset":10}`}},
		{"no utf-8", "{\"by\":\"a\xff\"}", []string{`/by not_utf8 {"column":9,"line":1,"offset":8}`}},
		{"half a surrogate", `{"by":"\ud800"}`, []string{`/by syntax {"column":8,"line":1,"offset":7}`}},
		{"byte order mark", "\ufeff{}", []string{` byte_order_mark {"column":1,"line":1,"offset":0}`}},
		{"deep unknown", `{"x":` + strings.Repeat("[", 5000) + strings.Repeat("]", 5000) + "}", []string{`/x unknown {"field":"x"}`, `/x too_deep {"limit":64}`}},
		{"deep in itself", strings.Repeat(`{"self":`, 5000) + strings.Repeat("}", 5000), []string{strings.Repeat("/self", 64) + ` too_deep {"limit":64}`}},
		{"long names", `{` + ok + `,"` + strings.Repeat("é", 200) + `":1,"by_name":{"` + strings.Repeat("k", 200) + `":1}}`, []string{
			` unknown {"field":"` + strings.Repeat("é", 60) + `…"}`, `/by_name long_name {"limit":128}`}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var s sample
			if diff := cmp.Diff(tc.want, told(Decode([]byte(tc.in), &s))); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestDecodeCountWanted(t *testing.T) {
	for in, want := range map[string]string{
		`true`: `/pieces want_count {"found":"boolean"}`, `1.5`: `/pieces not_whole {"value":"1.5"}`,
		`"1.2345"`: `/pieces decimals {"places":3,"value":"1.2345"}`, `5000000000`: `/pieces out_of_range`,
	} {
		var c counted
		if got := told(Decode([]byte(`{"pieces":`+in+`}`), &c)); len(got) != 1 || got[0] != want {
			t.Errorf("%s: %v, want %v", in, got, want)
		}
	}
}

func TestDecodeTellsABoundedNumberOfFaults(t *testing.T) {
	var s []inner
	faults := Decode([]byte("["+strings.Repeat("{},", 100_000)+"{}]"), &s)
	if last := faults[len(faults)-1]; len(faults) != maxFaults+1 || last.Key != "input.more" || last.Pointer != "" {
		t.Errorf("%d faults, the last %v", len(faults), last)
	}
}

func TestDecodePanicsOnTypesItCannotRead(t *testing.T) {
	for _, into := range []any{new(float64), new(any), new(chan int), new(map[int]string), new([]uint64), new(struct{ *stamp }), sample{}, (*sample)(nil), nil} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%T is read", into)
				}
			}()
			Decode([]byte(`{}`), into)
		}()
	}
}

func TestDecodeManyFields(t *testing.T) {
	var fields []reflect.StructField
	for i := range 300 {
		fields = append(fields, reflect.StructField{Name: fmt.Sprintf("F%d", i), Type: reflect.TypeFor[int]()})
	}
	v := reflect.New(reflect.StructOf(fields))
	if faults := Decode([]byte(`{"F299":7,"F299":7}`), v.Interface()); len(faults) != maxFaults+1 || faults[0].Key != "input.duplicate" {
		t.Errorf("%d faults, the first %v", len(faults), faults[0])
	}
	if got := v.Elem().Field(299).Int(); got != 7 {
		t.Errorf("F299 is %d", got)
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(`{"by":"Ana","name":"g\u0061","count":-3,"self":{"by":"","name":"n","count":0,"note":null,"at":null},"note":"é"}`))
	f.Add([]byte(`{"by":"","name":"","count":0,"note":null,"list":[1,-0],"by_name":{"x":"0.05"},"at":"2026-02-16T06:00:00-08:00","done":true}`))
	f.Add([]byte("{\"by\":\"a\xff\"}"))
	f.Add([]byte(`{"NAME":[{"a/b~c":1e9}]} x`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var ours, theirs sample
		faults := Decode(data, &ours)
		if len(faults) > 0 {
			return
		}
		if err := json.Unmarshal(data, &theirs); err != nil {
			t.Fatalf("taken here, refused there: %v", err)
		}
		a, _ := json.Marshal(ours)
		b, _ := json.Marshal(theirs)
		if string(a) != string(b) {
			t.Errorf("read as %s here, %s there", a, b)
		}
	})
}

func BenchmarkDecodeWeek(b *testing.B) {
	data := []byte(week())
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		var w payroll.Week
		if faults := Decode(data, &w); len(faults) > 0 {
			b.Fatal(faults)
		}
	}
}

// week is a worker-week of six workdays, about as long as a real one.
func week() string {
	var days []string
	for i := range 6 {
		days = append(days, fmt.Sprintf(`{"date":"2026-02-%d","time":[{"kind":"piece","minutes":420},{"kind":"nonproductive","minutes":20},{"kind":"rest","minutes":20},{"kind":"meal","minutes":30}],`+
			`"tallies":[{"operation":"pollination","unit":"bunch","pieces":160,"rate":"1.1500"}]}`, 16+i))
	}
	return `{"id":"w-14","rulebook":"us-ca","employer_size":40,"week_start":"2026-02-15","hourly_rate":"17.50","days":[` + strings.Join(days, ",") + `]}`
}

type carrier[C any] struct {
	ID      int `json:"id"`
	Content C   `json:",inline"`
}

func TestInlineFields(t *testing.T) {
	var got carrier[inner]
	if faults := Decode([]byte(`{"id": 7, "a/b~c": 8}`), &got); len(faults) > 0 || got != (carrier[inner]{7, inner{8}}) {
		t.Errorf("read %+v, %v", got, faults)
	}
	faults := Decode([]byte(`{"id": 7, "Content": {}}`), &got)
	if len(faults) != 2 || faults[0].Pointer != "/Content" || faults[1].Pointer != "/a~1b~0c" {
		t.Errorf("an inlined field was taken for one of its own: %v", faults)
	}
}

type storedDate struct{ dated.Date }

func TestDatesInOtherGarb(t *testing.T) {
	var got struct {
		On storedDate `json:"on"`
	}
	faults := Decode([]byte(`{"on": "16.2.2026"}`), &got)
	if len(faults) != 1 || faults[0].Key != "input.not_date" {
		t.Errorf("%v", faults)
	}
}
