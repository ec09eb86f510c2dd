package pages

import (
	"cmp"
	"errors"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/failures"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/intake"
	"palmero/models/intake/imports"
	"palmero/models/payrun"
	"palmero/payroll"
)

// importFile is a file with what was found in it, and how it is read.
type importFile struct {
	*imports.Import
	*imports.Outcome
	Told     *imports.Report
	Zone     *time.Location
	GivenUp  bool
	Kept     bool // whether its bytes are still here
	Choices  imports.Choices
	Mapping  *imports.KeptMapping
	Parts    []importPart
	Problems []importProblem // those that are shown
	Unshown  int             // how many more there are
	Matches  int             // how many of the problems ask what to do with what is recorded
	Unknown  int             // how many ask for new hands
	Words    []importWord
	Columns  []importColumn
	Learned  []importLearned
	Unread   []string // why the file cannot be read
	Reason   string
	Notes    []importNote
	Answers  []Option
	Lines    []Option
}

type importPart struct {
	Part imports.Part
	imports.PartCount
}

// importProblem is a problem in the reader's words. Match is the field in which it is answered; "" where it is no such question.
type importProblem struct {
	Line            int
	Column, Heading string
	Text            string
	Match           string
	Answers         []Option
}

type importNote struct {
	Text  string
	Lines []int
	More  int
}

// importWord is a word of the file that stands for nothing known yet.
type importWord struct {
	Name, Field, Given string
	Options            []Option // nil: it is written
}

// importColumn is a column and what it may be read as.
type importColumn struct {
	imports.Column
	Input   string
	Options []Option
}

// importLearned is a word that is remembered.
type importLearned struct{ Input, Field, Word, For string }

// Bounds of what one page shows. What is more is told by its number.
const (
	shownProblems = 200
	shownWords    = 60
	shownColumns  = 40
	shownLearned  = 100
	shownLines    = 12
)

// ownImport is the file in the path, if the reader may take in its kind.
func (v *visit) ownImport(tx *models.Tx) (*imports.Import, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	i, err := imports.ImportOf(tx, id)
	if err == nil && !slices.Contains(v.takes(), i.Kind) {
		return nil, &models.Error{Kind: models.Forbidden, Key: "page.problem.role", Terms: payroll.Terms{"roles": v.roles(i.Kind.Takers())}}
	}
	return i, err
}

func importPage(v *visit, f *Form) (*answer, error) {
	var page importFile
	err := v.view(func(tx *models.Tx) (err error) {
		if page.Import, err = v.ownImport(tx); err != nil {
			return err
		}
		if page.Zone, err = payrun.HomeZone(tx); err != nil {
			return err
		}
		page.GivenUp = page.Import.GivenUp(tx.Now)
		if page.UnderWay() && !page.GivenUp {
			return nil
		}
		return page.read(tx, v)
	})
	if err != nil {
		return nil, err
	}
	f.Keep(page.Version)
	if page.UnderWay() && !page.GivenUp {
		v.gin.Header("Refresh", "2")
		return show("import_working", &page).with(f), nil
	}
	page.fill(f)
	return show("import", &page).with(f), nil
}

// read reads what there is to see of a file that nobody works on.
func (p *importFile) read(tx *models.Tx, v *visit) (err error) {
	if p.Outcome, err = p.Import.Outcome(); err != nil {
		return err
	}
	if p.Outcome == nil {
		p.Outcome = &imports.Outcome{}
	}
	if p.Choices, err = p.Import.Choices(); err != nil {
		return err
	}
	if p.Mapping, err = imports.MappingOf(tx, p.Kind); err != nil {
		return err
	}
	p.Told = p.Outcome.Report
	p.Kept = p.State != imports.Stored && p.State != imports.Dropped
	if p.Told != nil {
		for _, part := range imports.Parts {
			if n, ok := p.Told.Parts[part]; ok {
				p.Parts = append(p.Parts, importPart{part, n})
			}
		}
	} else if p.Key != "" {
		p.Reason = v.inPageWords(p.Key, &failures.Failure{Terms: p.Terms})
		for _, fault := range p.Faults {
			p.Unread = append(p.Unread, p.lineOf(v, fault)+v.inPageWords(fault.Key, &failures.Failure{Terms: fault.Terms}))
		}
	}
	p.showNotes(v)
	p.showColumns(v)
	p.showLearned()
	return p.showProblems(tx, v)
}

// lineOf names the line of a fault that the whole file was refused for.
func (p *importFile) lineOf(v *visit, f payroll.Fault) string {
	line, _, _ := strings.Cut(strings.TrimPrefix(f.Pointer, "/"), "/")
	if n, err := strconv.Atoi(line); err == nil {
		return v.say("page.imports.line_is", payroll.Terms{"line": n}) + " "
	}
	return ""
}

func (p *importFile) showProblems(tx *models.Tx, v *visit) error {
	p.Unshown = max(0, p.Found-shownProblems)
	p.Answers = []Option{{Label: v.say("page.imports.ask", nil)}}
	for _, a := range []imports.Answer{imports.Add, imports.Replace, imports.Skip} {
		p.Answers = append(p.Answers, Option{Value: string(a), Label: v.say("page.imports.answer."+string(a), nil)})
	}
	seen := map[[2]string]bool{}
	for i, problem := range p.Outcome.Problems {
		one := importProblem{Line: problem.Line, Column: problem.Column, Heading: problem.Heading, Text: v.inPageWords(problem.Key, &failures.Failure{Terms: problem.Terms})}
		switch problem.Key {
		case "fault.import_matches", "fault.import_matches_more":
			p.Matches++
			one.Match, one.Answers = "m"+strconv.Itoa(problem.Line), slices.Clone(p.Answers)
		case "fault.unknown_worker_name":
			p.Unknown++
			fallthrough
		case "fault.unknown_word":
			given, _ := problem.Terms["given"].(string)
			if key := [2]string{problem.Field, given}; given != "" && problem.Field != "" && !seen[key] && len(seen) < shownWords {
				seen[key] = true
				p.Words = append(p.Words, importWord{Name: "w" + strconv.Itoa(len(p.Words)), Field: problem.Field, Given: given})
			}
		}
		if i < shownProblems {
			p.Problems = append(p.Problems, one)
		}
	}
	return p.offerWords(tx, v)
}

// offerWords lists what an unknown word can stand for, where that is one of a few things.
func (p *importFile) offerWords(tx *models.Tx, v *visit) error {
	known := map[string][]Option{}
	for i := range p.Words {
		w := &p.Words[i]
		if _, ok := known[w.Field]; !ok {
			options, err := wordsFor(tx, v, w.Field)
			if err != nil {
				return err
			}
			if options != nil {
				options = append([]Option{{Label: v.say("page.imports.word_none", nil)}}, options...)
			}
			known[w.Field] = options
		}
		w.Options = slices.Clone(known[w.Field])
		for n, o := range w.Options {
			w.Options[n].Chosen = w.Field == "operation" && operationCalled(o.Value, w.Given)
		}
	}
	return nil
}

// operationCalled tells whether a word is what an operation is called in one of our languages: then it is what the word most likely stands for.
func operationCalled(code, word string) bool {
	return slices.ContainsFunc(text.Languages(), func(lang string) bool { return strings.EqualFold(text.For(lang).Operation(code), word) })
}

func wordsFor(tx *models.Tx, v *visit, field string) (options []Option, err error) {
	today, err := payrun.Today(tx)
	if err != nil {
		return nil, err
	}
	switch field {
	case "operation":
		options, err = wordOptions(tx, func(c *models.OperationContent) Option {
			return Option{Value: c.Code, Label: v.until(v.catalogue().Operation(c.Code), c.Ending, today)}
		})
	case "block":
		options, err = wordOptions(tx, func(c *models.BlockContent) Option {
			return Option{Value: c.Code, Label: v.until(c.Code, c.Ending, today)}
		})
	case "crew":
		options, err = wordOptions(tx, func(c *models.CrewContent) Option { return Option{Value: c.Name, Label: c.Name} })
	case "garden":
		options, err = wordOptions(tx, func(c *models.GardenContent) Option { return Option{Value: c.Name, Label: c.Name} })
	}
	return options, err
}

func wordOptions[C any](tx *models.Tx, of func(*C) Option) (options []Option, err error) {
	all, err := models.All[C](tx)
	for _, record := range all {
		options = append(options, of(&record.Content))
	}
	slices.SortFunc(options, func(a, b Option) int { return cmp.Or(cmp.Compare(a.Label, b.Label), cmp.Compare(a.Value, b.Value)) })
	return slices.Compact(options), err
}

// showNotes gathers the notes that say the same.
func (p *importFile) showNotes(v *visit) {
	at := map[string]int{}
	for _, n := range p.Outcome.Notes {
		words := v.inPageWords(n.Key, &failures.Failure{Terms: n.Terms})
		i, ok := at[words]
		if !ok {
			i = len(p.Notes)
			at[words] = i
			p.Notes = append(p.Notes, importNote{Text: words})
		}
		if len(p.Notes[i].Lines) < shownLines {
			p.Notes[i].Lines = append(p.Notes[i].Lines, n.Line)
		} else {
			p.Notes[i].More++
		}
	}
}

func (p *importFile) showColumns(v *visit) {
	if p.Layout == nil {
		return
	}
	options := []Option{{Label: v.say("page.imports.left_aside", nil)}}
	for _, field := range imports.Fields(p.Kind) {
		options = append(options, Option{Value: field, Label: v.say("import.field."+field, nil)})
	}
	for n, c := range p.Layout.Columns[:min(len(p.Layout.Columns), shownColumns)] {
		p.Columns = append(p.Columns, importColumn{c, "c" + strconv.Itoa(n), slices.Clone(options)})
	}
}

func (p *importFile) showLearned() {
	for _, field := range slices.Sorted(maps.Keys(p.Mapping.Values)) {
		words := p.Mapping.Values[field]
		for _, from := range words.Sorted() {
			if len(p.Learned) < shownLearned {
				p.Learned = append(p.Learned, importLearned{"forget" + strconv.Itoa(len(p.Learned)), field, from, words[from]})
			}
		}
	}
}

// fill puts what stands into the form, where nothing was typed.
func (p *importFile) fill(f *Form) {
	set := func(name, value string) {
		if !f.Has(name) {
			f.Set(name, value)
		}
	}
	m := p.Mapping
	set("mapping_version", strconv.FormatInt(m.Version, 10))
	for name, value := range map[string]string{"date_order": m.DateOrder, "decimal_mark": m.DecimalMark, "sheet": m.Sheet, "crew": m.Crew, "garden": m.Garden} {
		set(name, value)
	}
	if f.Problem == "" && m.Overnight {
		set("overnight", "yes")
	}
	if f.Problem == "" && p.Choices.NewWorkers {
		set("new_workers", "yes")
	}
	answers, err := imports.ParseAnswers(p.Choices.OnMatch)
	if err == nil {
		set("all", string(answers.All))
		for line, answer := range answers.Lines {
			set("m"+strconv.Itoa(line), string(answer))
		}
	}
	choose := func(options []Option, name string) {
		for i := range options {
			options[i].Chosen = f.Value(name) == options[i].Value
		}
	}
	for i := range p.Columns {
		c := &p.Columns[i]
		set(c.Input, c.Field)
		choose(c.Options, c.Input)
	}
	for i := range p.Problems {
		choose(p.Problems[i].Answers, p.Problems[i].Match)
	}
	for i := range p.Words {
		if f.Has(p.Words[i].Name) {
			choose(p.Words[i].Options, p.Words[i].Name)
		}
	}
}

// readImport keeps how the file is to be read and what was answered, and tries it anew.
func readImport(v *visit) (*answer, error) {
	f, err := v.form("date_order", "decimal_mark", "sheet", "crew", "garden", "overnight", "all")
	if err != nil {
		return nil, err
	}
	var i *imports.Import
	err = v.in(func(tx *models.Tx) (err error) {
		if i, err = v.ownImport(tx); err != nil {
			return err
		}
		kept, err := imports.MappingOf(tx, i.Kind)
		if err != nil {
			return err
		}
		wanted, err := mappingIn(f, i, kept.Mapping)
		if err != nil {
			return err
		}
		seen, err := strconv.ParseInt(f.Value("mapping_version"), 10, 64)
		if err != nil {
			seen = -1
		}
		if _, err := imports.UpdateMapping(tx, seen, wanted); err != nil {
			return err
		}
		i, err = imports.Begin(tx, i.ID, f.Version, imports.Checking, choicesIn(f))
		return err
	})
	if err != nil {
		return v.againImport(f, err)
	}
	v.workOn(i)
	return seeOther("/imports/"+i.ID.String(), ""), nil
}

// againImport shows the page of a file once more. What somebody else changed meanwhile is shown as it is now.
func (v *visit) againImport(f *Form, err error) (*answer, error) {
	if models.KindOf(err) == models.Stale {
		f.values.Del("mapping_version")
	}
	return v.again(f, err, importPage)
}

// mappingIn is the mapping that the form asks for, made from the one that stands.
func mappingIn(f *Form, i *imports.Import, m imports.Mapping) (imports.Mapping, error) {
	outcome, err := i.Outcome()
	if err != nil {
		return m, err
	}
	m.Kind = i.Kind
	if outcome != nil && outcome.Layout != nil {
		var fields []string
		for n, c := range outcome.Layout.Columns {
			field := c.Field
			if name := "c" + strconv.Itoa(n); f.Has(name) {
				field = f.Value(name)
			}
			fields = append(fields, field)
		}
		m.Columns = outcome.Layout.Chosen(fields)
	}
	m.DateOrder, m.DecimalMark, m.Sheet, m.Crew, m.Garden, m.Overnight = f.Value("date_order"), f.Value("decimal_mark"), f.Value("sheet"), f.Value("crew"), f.Value("garden"), f.Value("overnight") != ""
	values := map[string]imports.Words{}
	n := 0
	for _, field := range slices.Sorted(maps.Keys(m.Values)) {
		for _, from := range m.Values[field].Sorted() {
			if f.Value("forget"+strconv.Itoa(n)) == "" {
				learnWord(values, field, from, m.Values[field][from])
			}
			n++
		}
	}
	for n := range shownWords {
		name := "w" + strconv.Itoa(n)
		if to, field := f.Value(name), f.Value(name+"f"); to != "" && field != "" {
			learnWord(values, field, f.Value(name+"g"), to)
		}
	}
	m.Values = values
	return m, nil
}

func learnWord(values map[string]imports.Words, field, from, to string) {
	if values[field] == nil {
		values[field] = imports.Words{}
	}
	values[field][from] = to
}

// choicesIn reads the answers of the form.
func choicesIn(f *Form) imports.Choices {
	c := imports.Choices{Accept: intake.Whole, NewWorkers: f.Value("new_workers") != ""}
	var parts []string
	answer := func(name, before string) {
		switch a := imports.Answer(f.Value(name)); a {
		case imports.Add, imports.Replace, imports.Skip:
			parts = append(parts, before+string(a))
		}
	}
	answer("all", "")
	for _, name := range slices.Sorted(maps.Keys(f.values)) {
		if line, err := strconv.Atoi(strings.TrimPrefix(name, "m")); err == nil && strings.HasPrefix(name, "m") {
			answer(name, strconv.Itoa(line)+"=")
		}
	}
	c.OnMatch = strings.Join(parts, ",")
	return c
}

// takeInImport takes the file in as it was last tried. Pressed twice it is taken in once.
func takeInImport(v *visit) (*answer, error) {
	f, err := v.form()
	if err != nil {
		return nil, err
	}
	var i *imports.Import
	err = v.in(func(tx *models.Tx) error {
		seen, err := v.ownImport(tx)
		if err != nil {
			return err
		}
		c, err := seen.Choices()
		if err != nil {
			return err
		}
		if c.Accept = intake.Whole; f.Value("good_lines") != "" {
			c.Accept = intake.GoodLines
		}
		i, err = imports.Begin(tx, seen.ID, f.Version, imports.Storing, c)
		return err
	})
	if err != nil {
		return v.importUnlessUnderWay(f, err)
	}
	v.workOn(i)
	return seeOther("/imports/"+i.ID.String(), ""), nil
}

// importUnlessUnderWay shows how far a file has come, where the button was pressed a second time.
func (v *visit) importUnlessUnderWay(f *Form, err error) (*answer, error) {
	var e *models.Error
	if id, bad := v.id(); bad == nil && models.KindOf(err) == models.Conflict && errors.As(err, &e) && e.Key == "problem.import_under_way" {
		return seeOther("/imports/"+id.String(), ""), nil
	}
	return v.againImport(f, err)
}

func dropImport(v *visit) (*answer, error) {
	f, err := v.form()
	if err != nil {
		return nil, err
	}
	var id uuid.UUID
	err = v.in(func(tx *models.Tx) error {
		i, err := v.ownImport(tx)
		if err != nil {
			return err
		}
		id = i.ID
		return imports.Drop(tx, id, f.Version)
	})
	if err != nil {
		return v.againImport(f, err)
	}
	return seeOther("/imports", "import_dropped"), nil
}
