// Package figuring stands between JSON and the safety engine: it reads a figure's document strictly, has it answered, and puts the answer into words.
package figuring

import (
	"sync"

	"palmero/handlers/strictjson"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/safety"
	"palmero/safety/checklists"
	"palmero/safety/rulebook"
)

// Books are the safety rulebooks that come with the program, read once; ones that cannot be read are the program's fault, found by its first test.
var Books = sync.OnceValue(func() *rulebook.Library {
	books, err := rulebook.Load()
	if err != nil {
		panic(err)
	}
	return books
})

// Lists are the checklists that come with the program, read once; ones that cannot be read are the program's fault, found by their own test.
var Lists = sync.OnceValue(func() map[string]*checklists.Checklist {
	lists, err := checklists.Load()
	if err != nil {
		panic(err)
	}
	return lists
})

// Read answers a figure from its JSON document, in the catalogue's language.
func Read(figure safety.Figure, document []byte, words *text.Catalogue) (any, []payroll.Fault) {
	in := figure.New()
	if faults := strictjson.Decode(document, in); len(faults) > 0 {
		return nil, faults
	}
	return Answer(figure, in, words)
}

// Answer answers a figure from a document that has been read, in the catalogue's language.
func Answer(figure safety.Figure, document any, words *text.Catalogue) (any, []payroll.Fault) {
	answer, faults := figure.Answer(Books(), document)
	if len(faults) > 0 {
		return nil, Faults(faults)
	}
	answer.Speak(Saying(words))
	return answer, nil
}

// Saying puts the safety engine's messages into the catalogue's language.
func Saying(words *text.Catalogue) safety.Say {
	return func(key string, terms safety.Terms) string { return words.Say(key, payroll.Terms(terms)) }
}

// Faults are the engine's faults in the form that the handlers tell them in.
func Faults(faults []safety.Fault) []payroll.Fault {
	all := make([]payroll.Fault, len(faults))
	for i, f := range faults {
		all[i] = payroll.Fault{Pointer: f.Pointer, Key: f.Key, Terms: payroll.Terms(f.Terms)}
	}
	return all
}
