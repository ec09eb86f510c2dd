package plot

import (
	"encoding/xml"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// element is one element of a picture, with the text that it holds.
type element struct {
	name, text string
	at         map[string]string
}

func (e *element) number(t *testing.T, name string) int {
	t.Helper()
	n, err := strconv.Atoi(e.at[name])
	if err != nil {
		t.Fatalf("%s of %v: %v", name, e, err)
	}
	return n
}

// elements takes a picture apart; it has to be well-formed.
func elements(t *testing.T, picture string) (all []*element) {
	t.Helper()
	var open []*element
	d := xml.NewDecoder(strings.NewReader(picture))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatalf("%v in %s", err, picture)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := &element{name: token.Name.Local, at: map[string]string{}}
			for _, a := range token.Attr {
				e.at[a.Name.Local] = a.Value
			}
			all, open = append(all, e), append(open, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			open[len(open)-1].text += string(token)
		}
	}
}

func named(all []*element, name, class string) []*element {
	return slices.DeleteFunc(slices.Clone(all), func(e *element) bool { return e.name != name || e.at["class"] != class })
}

// within wants every rectangle inside the picture.
func within(t *testing.T, all []*element) {
	t.Helper()
	box := strings.Fields(all[0].at["viewBox"])
	w, errW := strconv.Atoi(box[2])
	h, errH := strconv.Atoi(box[3])
	if errW != nil || errH != nil {
		t.Fatal(box)
	}
	for _, e := range all {
		if e.name != "rect" {
			continue
		}
		x, y, width, height := e.number(t, "x"), e.number(t, "y"), e.number(t, "width"), e.number(t, "height")
		if x < 0 || y < 0 || width < 0 || height < 0 || x+width > w || y+height > h {
			t.Errorf("%v is not inside %v", e.at, box)
		}
	}
}

func TestBars(t *testing.T) {
	bars := []Bar{{"A-1", 0, "0%"}, {"A-2", 50, "50%"}, {"A-3", 100, "100%"}, {"A-4", 716, "716%"}, {`<b>"&`, -1, "?"}}
	all := elements(t, string(Bars(Words{"blocks", "How <far>", "One bar & a frame"}, bars)))
	within(t, all)
	if svg := all[0]; svg.at["role"] != "img" || svg.at["aria-labelledby"] != "blocks-title blocks-text" {
		t.Errorf("%v", svg)
	}
	if title, desc := all[1], all[2]; title.at["id"] != "blocks-title" || title.text != "How <far>" || desc.at["id"] != "blocks-text" || desc.text != "One bar & a frame" {
		t.Errorf("it says %v, %v", title, desc)
	}
	frames, full := named(all, "rect", "frame"), named(all, "rect", "full")
	if len(frames) != len(bars) || len(full) != 3 {
		t.Fatalf("%d frames, %d bars", len(frames), len(full))
	}
	whole := frames[0].number(t, "width")
	for i, want := range []int{whole / 2, whole, whole} { // what goes past the whole fills it
		if got := full[i].number(t, "width"); got != want {
			t.Errorf("bar %d is %d wide; want %d", i, got, want)
		}
	}
	texts := named(all, "text", "")
	for i, b := range bars {
		if texts[2*i].text != b.Label || texts[2*i+1].text != b.Figure {
			t.Errorf("bar %d says %q, %q", i, texts[2*i].text, texts[2*i+1].text)
		}
	}
}

func TestColumns(t *testing.T) {
	words := Words{"weeks", "By week", "Two columns a week"}
	all := elements(t, string(Columns(words, "400 bunches", []Pair{{"7", 200, 100}, {"", 0, 400}, {"9", 300, 0}})))
	within(t, all)
	full, frames := named(all, "rect", "full"), named(all, "rect", "frame")
	highest := frames[1].number(t, "height")
	for i, want := range []int{highest / 2, 0, highest * 3 / 4} {
		if got := full[i].number(t, "height"); got != want {
			t.Errorf("column %d is %d high; want %d", i, got, want)
		}
	}
	if full[0].number(t, "y")+full[0].number(t, "height") != frames[1].number(t, "y")+highest {
		t.Error("columns do not stand on one line")
	}
	var said []string
	for _, e := range named(all, "text", "") {
		said = append(said, e.text)
	}
	if want := []string{"400 bunches", "7", "9"}; !slices.Equal(said, want) {
		t.Errorf("it says %q", said)
	}
	for _, many := range []int{0, 1, 20, 53} { // a year has at most 53 weeks
		pairs := make([]Pair, many)
		for i := range pairs {
			pairs[i] = Pair{First: int64(i), Second: int64(many - i)}
		}
		within(t, elements(t, string(Columns(words, "0", pairs))))
	}
}
