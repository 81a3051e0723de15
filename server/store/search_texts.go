package store

import (
	"regexp"
	"slices"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/search"
)

// telling is what an entry is found by: what stands in it to be read, whom and
// which machines it names.
type telling struct {
	Texts     []string
	People    []procedures.PersonID
	Equipment []procedures.EquipmentID
}

// tell gathers what people wrote, titles, tag and serial numbers, and in what was
// put in force its whole text. What was answered OK brings the item's id at most:
// else each inspection would be found by all that its list asks.
func tell(b body) telling {
	var t telling
	t.add(b)
	if p, ok := b.(*publishedBody); ok {
		if doc, err := p.doc(); err == nil {
			t.published(p.Sort, doc)
		}
	}
	t.Equipment = append(t.Equipment, b.about()...)
	slices.Sort(t.Equipment)
	t.Equipment = slices.Compact(t.Equipment)
	slices.Sort(t.People)
	t.People = slices.Compact(t.People)
	return t
}

// textsOf is what stands to be read in an entry as pages know it.
func textsOf(said any) []string {
	var t telling
	t.add(said)
	if p, ok := said.(Publication); ok {
		t.published(p.Sort, p.Doc)
	}
	return t.Texts
}

// published adds the text of a list, a procedure or a rig; one that can't be read
// is found by its title.
func (t *telling) published(sort Sort, doc string) {
	switch sort {
	case Lists:
		if l, err := read[checklists.List](doc); err == nil {
			t.add(l)
		}
	case Procedures:
		if p, err := read[procedures.Procedure](doc); err == nil {
			t.add(p)
		}
	case Rigs:
		if r, err := ReadRig(doc); err == nil {
			t.add(r)
		}
	}
}

// machineMade is what nobody wrote: an id, a digest, a time. A note may begin with
// a bracket like JSON; JSON stands in fields that are passed over by their type.
var machineMade = regexp.MustCompile(`^([0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f-]{22}|(sha256:)?[0-9a-f]{64}|\d{4}-\d\d-\d\dT[\d:.]+(Z|[+-]\d\d:\d\d))$`)

// Words that are no texts begin with a sign no text's word has.
const (
	wordOfKind    = "=k"
	wordOfActor   = "=a"
	wordOfPerson  = "=p" // named in it, and not its actor
	wordOfMachine = "=e"
	wordOfTime    = "=t" // a day or a month
	wordOfName    = "=n" // "=nlind=ben": an entry that calls ben by a name with the word lind
	wordOfCalled  = "=c" // the same of equipment
)

// wordsMost bounds the words of one entry.
const wordsMost = 5000

// wordsOf is all that an entry is found by, each once. Who acted is found by
// wordOfActor alone.
func wordsOf(kind, actor, day string, b body) []string {
	return wordsTold(kind, actor, day, b, tell(b))
}

// wordsTold is wordsOf a body of which said was told.
func wordsTold(kind, actor, day string, b body, said telling) []string {
	words := append([]string{wordOfKind + kind, wordOfActor + actor}, wordsOfDay(day)...)
	for _, id := range said.People {
		if string(id) != actor {
			words = append(words, wordOfPerson+string(id))
		}
	}
	for _, id := range said.Equipment {
		if id != "" {
			words = append(words, wordOfMachine+string(id))
		}
	}
	for _, text := range said.Texts {
		words = append(words, search.Words(text)...)
	}
	words = slices.Concat(words, namedIn(b), titledIn(b), aboutOf(b), outcomesOf(b))
	for i := range words {
		words[i] = strings.ToValidUTF8(words[i], "")
	}
	slices.Sort(words)
	words = slices.Compact(words)
	return words[:min(len(words), wordsMost)]
}

func wordsOfDay(day string) []string {
	words := []string{wordOfTime + day}
	if len(day) == len("2026-03-12") {
		words = append(words, wordOfTime+day[:len("2026-03")])
	}
	return words
}

// namedIn tell which words stand in the names that b gives to people or equipment,
// so that both are found by names they no longer have.
func namedIn(b body) (words []string) {
	switch b := b.(type) {
	case *personBody:
		for _, word := range search.Words(string(b.Name)) {
			words = append(words, wordOfName+word+"="+string(b.ID))
		}
	case *plantBody:
		for i := range b.Plant {
			for _, word := range search.Words(b.Plant[i].Name) {
				words = append(words, wordOfCalled+word+"="+string(b.Plant[i].ID))
			}
		}
	}
	return words
}
