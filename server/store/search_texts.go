package store

import (
	"encoding"
	"encoding/json"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
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
	t.add(reflect.ValueOf(b))
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
	t.add(reflect.ValueOf(said))
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
			t.add(reflect.ValueOf(l))
		}
	case Procedures:
		if p, err := read[procedures.Procedure](doc); err == nil {
			t.add(reflect.ValueOf(p))
		}
	case Rigs:
		if r, err := ReadRig(doc); err == nil {
			t.add(reflect.ValueOf(r))
		}
	}
}

func (t *telling) add(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			t.add(v.Elem())
		}
	case reflect.String:
		t.text(v)
	case reflect.Struct:
		kind := v.Type()
		if ownWords(kind) {
			return
		}
		for i := range kind.NumField() {
			f := kind.Field(i)
			if kind == publication && f.Name == "Doc" && json.Valid([]byte(v.Field(i).String())) {
				continue // published reads it
			}
			if (f.IsExported() || f.Anonymous) && f.Tag.Get("json") != "-" {
				t.add(v.Field(i))
			}
		}
	case reflect.Slice, reflect.Array:
		if v.Type().Elem().Kind() == reflect.Uint8 {
			return // JSON of its own, or bytes
		}
		for i := range v.Len() {
			t.add(v.Index(i))
		}
	case reflect.Map:
		for _, key := range v.MapKeys() {
			t.add(key)
			t.add(v.MapIndex(key))
		}
	}
}

var (
	jsonWriter  = reflect.TypeFor[json.Marshaler]()
	textWriter  = reflect.TypeFor[encoding.TextMarshaler]()
	personal    = reflect.TypeFor[record.Personal]()
	plainText   = reflect.TypeFor[string]()
	personID    = reflect.TypeFor[procedures.PersonID]()
	machineID   = reflect.TypeFor[procedures.EquipmentID]()
	publication = reflect.TypeFor[Publication]()
)

// ownWords tells whether a struct is a single value, such as a time.
func ownWords(kind reflect.Type) bool {
	return kind.Implements(jsonWriter) || kind.Implements(textWriter)
}

func (t *telling) text(v reflect.Value) {
	text := v.String()
	if text == "" {
		return
	}
	switch v.Type() {
	case personID:
		t.People = append(t.People, procedures.PersonID(text))
	case machineID:
		t.Equipment = append(t.Equipment, procedures.EquipmentID(text))
	case personal, plainText:
		if !machineMade.MatchString(text) && !slices.Contains(t.Texts, text) {
			t.Texts = append(t.Texts, text)
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
