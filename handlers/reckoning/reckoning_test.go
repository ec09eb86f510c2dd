package reckoning

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"palmero/handlers/documents"
	"palmero/handlers/strictjson"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

var books = func() *rulebook.Library {
	l, err := rulebook.Load()
	if err != nil {
		panic(err)
	}
	return l
}()

// run reckons a stream and returns how many weeks there were and how many were refused.
func run(in io.Reader, out io.Writer) (Outcome, error) {
	return Weeks{Books: books, Words: text.For(text.English)}.Run(in, out)
}

// weekOf is a worker-week of the named days of February 2026, about as long as a real one.
func weekOf(id string, days ...int) string {
	var written []string
	for _, day := range days {
		written = append(written, fmt.Sprintf(`{"date":"2026-02-%02d","time":[{"kind":"piece","minutes":420},{"kind":"nonproductive","minutes":20},`+
			`{"kind":"rest","minutes":20},{"kind":"meal","minutes":30}],"tallies":[{"operation":"pollination","unit":"bunch","pieces":%d,"rate":"1.1500"}]}`, day, 140+day))
	}
	return fmt.Sprintf(`{"id":%q,"rulebook":"us-ca","employer_size":40,"week_start":"2026-02-15","hourly_rate":"17.50","days":[%s]}`, id, strings.Join(written, ","))
}

// indented spreads a document over several lines.
func indented(t *testing.T, document string) string {
	t.Helper()
	var b bytes.Buffer
	if err := json.Indent(&b, []byte(document), "", "  "); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// answers says shortly what each line of an output is: "id gross", or "!" and the pointers of its errors.
func answers(t *testing.T, output string) []string {
	t.Helper()
	var all []string
	for line := range strings.Lines(output) {
		var a struct {
			ID     string
			Totals struct{ Gross string }
			Error  *struct {
				Title  string
				Errors []struct{ Pointer, Detail string }
			}
		}
		if err := json.Unmarshal([]byte(line), &a); err != nil {
			t.Fatalf("%v in %s", err, line)
		}
		if a.Error == nil {
			all = append(all, a.ID+" "+a.Totals.Gross)
			continue
		}
		said := "!"
		for _, e := range a.Error.Errors {
			said += " " + e.Pointer
			if e.Detail == "" || a.Error.Title == "" {
				t.Errorf("an error that says nothing: %s", line)
			}
		}
		all = append(all, said)
	}
	return all
}

func TestWeeks(t *testing.T) {
	a, b := weekOf("a", 16), weekOf("b", 16, 17)
	// By hand: 156 × $1.15 and 20 min × $17.50 are $185.24 in 440 min, so 20 min of rest are $8.42. The longer week: 313 × $1.15 and
	// 40 min × $17.50 are $371.62 in 880 min, so 40 min of rest are $16.90.
	const grossA, grossB = "a 193.66", "b 388.52"
	long := `{"id":"` + strings.Repeat("x", maxWeek) + `"}`
	for _, tc := range []struct {
		name, in string
		want     []string
		refused  int
	}{
		{"one", a, []string{grossA}, 0},
		{"several lines", a + "\n" + b + "\n", []string{grossA, grossB}, 0},
		{"line ends of another system and blank lines", "\r\n" + a + "\r\n\r\n \t\n" + b + "\r\n", []string{grossA, grossB}, 0},
		{"byte order mark", "\ufeff" + a, []string{grossA}, 0},
		{"over several lines", indented(t, a), []string{grossA}, 0},
		{"over several lines, behind a byte order mark", "\ufeff" + indented(t, a), []string{grossA}, 0},
		{"over several lines, twice", indented(t, a) + "\n\n" + indented(t, b), []string{grossA, grossB}, 0},
		{"bad in the middle", a + "\n{\"x\":1}\n" + b, []string{grossA, "! /x /rulebook /week_start", grossB}, 1},
		{"broken in the middle", a + "\n{\"id\":\n" + b + "\nrubbish", []string{grossA, "! /id", grossB, "! "}, 2},
		{"first line cut off", a[:40] + "\n" + b, []string{"! ", grossB}, 1},
		{"first line rubbish", "rubbish\n" + b, []string{"! ", grossB}, 1},
		{"over several lines, cut off", indented(t, a)[:300], []string{"! /days/0/time/1"}, 1},
		{"two on a line", a + " " + b, []string{"! "}, 1},
		{"too long", a + "\n" + long + "\n" + b, []string{grossA, "! ", grossB}, 1},
		{"too long first", long + "\n" + b, []string{"! ", grossB}, 1},
		{"first cut off, then too long", a[:40] + "\n" + long + "\n" + b, []string{"! ", "! ", grossB}, 2},
		{"too long over several lines", "{\n\"id\":\"" + strings.Repeat("x", maxWeek/2) + "\",\n\"rulebook\":\"" + strings.Repeat("x", maxWeek/2) + "\",\n\"days\":[]\n}\n" + b, []string{"! ", grossB}, 1},
		{"faults of the engine", strings.Replace(a, "2026-02-16", "2026-03-16", 1), []string{"! /days/0/date"}, 1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var out bytes.Buffer
			outcome, err := run(strings.NewReader(tc.in), &out)
			if diff := cmp.Diff(tc.want, answers(t, out.String())); diff != "" || err != nil || outcome != (Outcome{len(tc.want), tc.refused}) {
				t.Errorf("outcome %+v, %v, answers:\n%s", outcome, err, diff)
			}
		})
	}
}

func TestTellsOfInputAndOutputThatFail(t *testing.T) {
	broken := errors.New("the wire is cut")
	for _, indent := range []bool{false, true} {
		weeks := Weeks{Books: books, Words: text.For(text.English), Indent: indent}
		in := io.MultiReader(strings.NewReader(weekOf("a", 16)+"\n"), iotest.ErrReader(broken))
		if _, err := weeks.Run(in, io.Discard); !errors.Is(err, broken) {
			t.Errorf("input fails, indent %v: %v", indent, err)
		}
		if _, err := weeks.Run(strings.NewReader(weekOf("a", 16)), failingWriter{broken}); !errors.Is(err, broken) {
			t.Errorf("output fails, indent %v: %v", indent, err)
		}
	}
}

type failingWriter struct{ err error }

func (w failingWriter) Write([]byte) (int, error) { return 0, w.err }

func TestAnswersBeforeTheInputEnds(t *testing.T) {
	in, feed := io.Pipe()
	answer, out := io.Pipe()
	ended := make(chan error)
	go func() {
		_, err := run(in, out)
		ended <- err
		out.Close()
	}()
	buffer := make([]byte, 1<<16)
	for i := range 3 {
		fmt.Fprintln(feed, weekOf(fmt.Sprint(i), 16))
		n, err := answer.Read(buffer)
		if got := string(buffer[:n]); err != nil || !strings.HasPrefix(got, fmt.Sprintf(`{"id":"%d"`, i)) {
			t.Fatalf("answer %d: %v %s", i, err, got)
		}
	}
	feed.Close()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

func TestKeepsTheOrder(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(8))
	var in strings.Builder
	var want []string
	for i := range 2000 {
		if i%7 == 3 {
			fmt.Fprintf(&in, "{\"x\":%d}\n", i)
			want = append(want, "! /x /rulebook /week_start")
			continue
		}
		id := fmt.Sprint(i)
		in.WriteString(weekOf(id, 16) + "\n")
		want = append(want, id+" 193.66")
	}
	var out bytes.Buffer
	if _, err := run(strings.NewReader(in.String()), &out); err != nil {
		t.Error(err)
	}
	if diff := cmp.Diff(want, answers(t, out.String())); diff != "" {
		t.Error(diff)
	}
}

// repeated gives a text again and again without holding it all.
type repeated struct {
	text string
	left int
	rest string
}

func (r *repeated) Read(p []byte) (int, error) {
	if r.rest == "" {
		if r.left == 0 {
			return 0, io.EOF
		}
		r.left--
		r.rest = r.text
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

// peak notes the most memory in use while output is written.
type peak struct {
	writes int
	most   uint64
}

func (p *peak) Write(b []byte) (int, error) {
	if p.writes++; p.writes%50 == 1 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		p.most = max(p.most, m.HeapInuse)
	}
	return len(b), nil
}

func TestUsesConstantMemory(t *testing.T) {
	week := weekOf("a", 16, 17) + "\n"
	var few, many peak
	for most, weeks := range map[*peak]int{&few: 2_000, &many: 20_000} {
		if outcome, err := run(&repeated{text: week, left: weeks}, most); err != nil || outcome.Refused > 0 {
			t.Fatalf("%+v, %v", outcome, err)
		}
	}
	if slack := uint64(32 << 20); many.most > few.most+slack {
		t.Errorf("%d bytes for ten times the weeks, %d for few", many.most, few.most)
	}
}

func FuzzReckon(f *testing.F) {
	week := weekOf("a", 16)
	f.Add([]byte(week + "\n" + week))
	f.Add([]byte("{\n \"rulebook\":\"us-ca\"\n}\n[\n\"\\\"{\"]"))
	f.Add([]byte("{\"id\":\"\xff\"}\n\ufeff{}\n{\"days\":[{\"date\":\"2026-02-30\"}]}"))
	f.Add([]byte(strings.Repeat("[", 200)))
	f.Add([]byte(`{"rulebook":"us-ca","week_start":"0001-01-01","days":[{"date":"9999-12-31","tallies":[{"operation":"","unit":"","pieces":-1,"rate":"1000000000","part":{"heads":0}}]}]}`))
	weeks := Weeks{Books: books, Words: text.For(text.Spanish)}
	f.Fuzz(func(t *testing.T, data []byte) {
		var out bytes.Buffer
		if _, err := weeks.Run(bytes.NewReader(data), &out); err != nil {
			t.Error(err)
		}
		for line := range bytes.Lines(out.Bytes()) {
			if !json.Valid(line) || line[len(line)-1] != '\n' {
				t.Errorf("no line of JSON: %q", line)
			}
		}
	})
}

// BenchmarkReckon prints what a week of six days costs, part by part on one core, and whole weeks a second on all of them.
func BenchmarkReckon(b *testing.B) {
	data := []byte(weekOf("a", 16, 17, 18, 19, 20, 21))
	var week payroll.Week
	strictjson.Decode(data, &week)
	statement, faults := payroll.Reckon(books, &week)
	if len(faults) > 0 {
		b.Fatal(faults)
	}
	english := text.For(text.English)

	b.Run("decoding", func(b *testing.B) {
		b.ReportAllocs()
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			strictjson.Decode(data, new(payroll.Week))
		}
	})
	b.Run("engine", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			payroll.Reckon(books, &week)
		}
	})
	b.Run("encoding", func(b *testing.B) {
		b.ReportAllocs()
		j := job{}
		for b.Loop() {
			j.answer.Reset()
			j.encode(Stream{}, documents.StatementJSON(statement, english))
		}
	})
	b.Run("whole", func(b *testing.B) {
		in := &repeated{text: string(data) + "\n", left: b.N}
		b.ResetTimer()
		if outcome, err := run(in, io.Discard); err != nil || outcome.Refused > 0 {
			b.Fatalf("%+v, %v", outcome, err)
		}
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "weeks/s")
	})
}
