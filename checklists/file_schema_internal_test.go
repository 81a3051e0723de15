package checklists

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures"
)

var update = flag.Bool("update", false, "write list.schema.json anew from the fields of a file")

// schemaOf is the JSON Schema of a record with these fields.
func schemaOf(v reflect.Type, fields []fileField) map[string]any {
	properties := map[string]any{}
	needed := []string{}
	for _, f := range fields {
		field, _ := v.FieldByName(f.field)
		properties[f.word] = schemaOfField(field.Type, f)
		if f.needed {
			needed = append(needed, f.word)
		}
	}
	made := map[string]any{"type": "object", "additionalProperties": false, "properties": properties}
	if len(needed) > 0 {
		made["required"] = needed
	}
	return made
}

func schemaOfField(v reflect.Type, f fileField) (made map[string]any) {
	defer func() { made["description"] = f.means }()
	switch {
	case f.fields != nil && f.many > 0:
		return map[string]any{"type": "array", "maxItems": f.many, "items": schemaOf(v.Elem(), f.fields)}
	case f.fields != nil:
		return schemaOf(v, f.fields)
	case f.many > 0:
		return map[string]any{"type": "array", "maxItems": f.many, "items": schemaOfScalar(v.Elem(), f)}
	}
	return schemaOfScalar(v, f)
}

func schemaOfScalar(v reflect.Type, f fileField) map[string]any {
	if v == reflect.TypeFor[time.Time]() {
		return map[string]any{"type": "string", "format": "date-time"}
	}
	switch v.Kind() {
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Int:
		return map[string]any{"type": "integer", "minimum": 0, "maximum": f.most}
	case reflect.String:
		if f.words == nil {
			return map[string]any{"type": "string", "maxLength": f.longest}
		}
		var words []string
		for word := range f.words {
			words = append(words, word)
		}
		slices.Sort(words)
		return map[string]any{"enum": words}
	}
	return map[string]any{"type": "number", "minimum": 0, "maximum": f.most}
}

func schemaFromFields(t *testing.T) []byte {
	whole := schemaOf(reflect.TypeFor[List](), listInFile())
	whole["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	whole["title"] = "A checklist of Stillsaw"
	properties := whole["properties"].(map[string]any)
	properties[fileMark] = map[string]any{"const": 1, "description": "form of the file"}
	whole["required"] = append([]string{fileMark}, whole["required"].([]string)...)
	var b bytes.Buffer
	encoder := json.NewEncoder(&b)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	require.NoError(t, encoder.Encode(whole))
	return b.Bytes()
}

func TestPublishedSchemaIsThatOfTheFieldsRead(t *testing.T) {
	made := schemaFromFields(t)
	if *update {
		require.NoError(t, os.WriteFile("list.schema.json", made, 0o644))
		return // what is embedded is the one before
	}
	require.Equal(t, string(made), string(FileSchema()), "go test ./checklists -run PublishedSchema -update")
}

// Every field of a list is one of its file: a new one without a word there would
// be lost on the way.
func TestEveryFieldOfAListStandsInItsFile(t *testing.T) {
	var check func(v reflect.Type, fields []fileField)
	check = func(v reflect.Type, fields []fileField) {
		for n := range v.NumField() {
			name := v.Field(n).Name
			at := slices.IndexFunc(fields, func(f fileField) bool { return f.field == name })
			if name == "Nth" && v == reflect.TypeFor[Item]() {
				continue // never kept
			}
			require.GreaterOrEqual(t, at, 0, "%s.%s has no word in a file", v, name)
			if inner := v.Field(n).Type; fields[at].fields != nil {
				if inner.Kind() == reflect.Slice {
					inner = inner.Elem()
				}
				check(inner, fields[at].fields)
			}
		}
		require.LessOrEqual(t, len(fields), v.NumField())
	}
	check(reflect.TypeFor[List](), listInFile())
}

func compiled(t *testing.T) *jsonschema.Schema {
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(FileSchema()))
	require.NoError(t, err)
	compiler := jsonschema.NewCompiler()
	compiler.AssertFormat()
	require.NoError(t, compiler.AddResource("list.schema.json", document))
	schema, err := compiler.Compile("list.schema.json")
	require.NoError(t, err)
	return schema
}

// accepts tells whether the schema takes a file, read by another way than ours.
func accepts(schema *jsonschema.Schema, file []byte) bool {
	var value any
	if err := yaml.Unmarshal(file, &value); err != nil {
		return false
	}
	text, err := json.Marshal(value)
	if err != nil {
		return false
	}
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	return err == nil && schema.Validate(document) == nil
}

func aStarter() (List, []List) {
	answers := SetUp{Law: "us-federal", Drive: "electric", Feed: "mandrel", Dogs: "power", Headblocks: 3, EntryPoints: 2, Hoist: "electric", Collector: "bag-house"}
	all := StarterLists(answers, procedures.StarterPlant(answers.Answers()))
	return all[0].Counted(answers), all
}

func TestSchemaTakesEachStarterListAndImportGivesItBack(t *testing.T) {
	schema := compiled(t)
	first, all := aStarter()
	first.Version, first.InForce, first.Repeats = 4, time.Date(2026, 3, 1, 6, 0, 0, 123_000_000, time.UTC), 2
	first.Loosened = []Loosened{{Item: "C1", Prompt: "was", Source: "29 CFR 1910.265", Reason: "moved to W1"}}
	for _, list := range append(all, first) {
		file, err := list.Export()
		require.NoError(t, err, "%s", list.ID)
		require.True(t, accepts(schema, file), "%s", list.ID)
		back, err := Import(file)
		require.NoError(t, err, "%s", list.ID)
		require.Equal(t, list.tidied(), back)
		before, err := list.Digest()
		require.NoError(t, err)
		after, err := back.Digest()
		require.NoError(t, err)
		require.Equal(t, before, after)
	}
}

// What the form of a file forbids is forbidden by both, each reading the file its
// own way: every line of a file taken out, put in another's place, emptied,
// misspelt or given a value of another kind.
func TestSchemaRefusesEveryFileImportRefusesForItsForm(t *testing.T) {
	schema := compiled(t)
	whole := anything(t)
	file, err := whole.Export()
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(file)), "\n")
	changed := func(n int, to ...string) []byte {
		return []byte(strings.Join(slices.Concat(lines[:n], to, lines[n+1:]), "\n") + "\n")
	}
	refused := 0
	for n, line := range lines {
		word, value, _ := strings.Cut(line, ":")
		tried := [][]byte{changed(n), changed(n, word+"x:"+value), changed(n, word+": [1, 2]"), changed(n, word+": {a: b}"), changed(n, word+": true"),
			changed(n, word+": 1.5"), changed(n, word+": -1"), changed(n, word+": 99999999999"), changed(n, word+": some words"),
			changed(n, word+": \""+strings.Repeat("x", LongestNote+1)+"\""), changed(n, word+":"), changed(n, line, strings.Repeat(" ", indent(line))+"more: 1")}
		for _, one := range tried {
			_, _, err := readFile(one)
			if err == nil {
				continue
			}
			refused++
			require.False(t, accepts(schema, one), "line %d %q: import says %v\n%s", n+1, line, err, one)
		}
	}
	require.Greater(t, refused, 5*len(lines), "most of them are refused")
}

func indent(line string) int { return len(line) - len(strings.TrimLeft(line, " -")) }

// anything is a list with something in every field of its file.
func anything(t *testing.T) List {
	list := lists().Filter(func(l List) bool { return len(l.Items) > 0 }).Example(1)
	one := 1.5
	list.Items = list.Items[:1]
	list.Items[0] = Item{ID: "A1", Station: "Saw", Equipment: "head-saw", Prompt: "what: is #1", How: "one\ntwo", State: LockedOut, Kind: Choice, Options: []string{"yes", "no"},
		Limits:   Limits{Unit: "in", Low: &one, High: &one, Most: 3, HighOut: true, StopAt: &one, SiteSet: true},
		Severity: Mend, DefectPhoto: true, AlwaysPhoto: true, NotFitted: true, Source: "rule", Meter: "hours", Qualified: ForLifting, Picture: "abc",
		Repeat: Repeat{Per: PerDog, Count: 2, Times: 2}, When: Condition{Item: "A0", Result: Found, Choice: "yes", From: &one, To: &one}}
	list.Version, list.Repeats, list.InForce = 3, 2, time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC)
	list.Schedule = Schedule{Every: OnEvent, Holds: true, HoldsLate: true, Days: 3, Hours: 2.5, Meter: "m", On: []EventKind{Jam}, Grace: 2, People: []procedures.PersonID{"p"}, Role: procedures.Operator}
	list.Loosened = []Loosened{{Item: "A2", Prompt: "p", Source: "s", Reason: "r"}}
	list.ID, list.Title = "list", "title"
	require.NoError(t, list.Draft())
	return list
}

// lists generates lists that can be kept as drafts, valid or not.
func lists() *rapid.Generator[List] {
	words := rapid.OneOf(rapid.StringN(0, 40, -1), rapid.SampledFrom([]string{"", "a", "true", "no", "~", "1.5", "- a", "a: b", "# a", "two\nlines", "a\n\n b", "{", "[", "*a", "&a", "!x", "%", "'", "\"", "\\", "\u0085", "\u2028", " a ", "😀é", "é", "0x1", "null", "|", ">", "a #b", "\r\n", "\x00", "\t"}))
	number := rapid.OneOf(rapid.Float64Range(0, mostInFile), rapid.SampledFrom([]float64{0, 0.1, 1. / 32, 5e-324, 1e9}))
	bound := func(t *rapid.T, name string) *float64 {
		if rapid.Bool().Draw(t, name) {
			return nil
		}
		x := number.Draw(t, name)
		return &x
	}
	of := func(t *rapid.T, name string, words map[string]string) string {
		var kept []string
		for _, one := range words {
			kept = append(kept, one)
		}
		slices.Sort(kept)
		return rapid.SampledFrom(append(kept, "")).Draw(t, name)
	}
	find := func(fields []fileField, word string) map[string]string {
		return fields[slices.IndexFunc(fields, func(f fileField) bool { return f.word == word })].words
	}
	item := rapid.Custom(func(t *rapid.T) Item {
		i := Item{
			Station: words.Draw(t, "station"), Equipment: procedures.EquipmentID(words.Draw(t, "equipment")), Prompt: words.Draw(t, "prompt"), How: words.Draw(t, "how"),
			State: MachineState(of(t, "state", stateInFile())), Kind: AnswerKind(of(t, "kind", find(itemInFile(), "answer"))), Severity: Severity(of(t, "severity", same(Stop, Mend))),
			DefectPhoto: rapid.Bool().Draw(t, "photo"), AlwaysPhoto: rapid.Bool().Draw(t, "always"), NotFitted: rapid.Bool().Draw(t, "fitted"), Source: words.Draw(t, "source"),
			Options: none(rapid.SliceOfN(words, 0, 3).Draw(t, "options")), Meter: MeterID(words.Draw(t, "meter")), Qualified: Qualification(of(t, "qualified", same(ForLifting))), Picture: words.Draw(t, "picture"),
			Limits: Limits{Unit: words.Draw(t, "unit"), Low: bound(t, "low"), High: bound(t, "high"), StopAt: bound(t, "stop"), Most: number.Draw(t, "most"), HighOut: rapid.Bool().Draw(t, "out"), SiteSet: rapid.Bool().Draw(t, "site")},
		}
		if per := of(t, "per", find(repeatInFile(), "for each")); per != "" {
			i.Repeat = Repeat{Per: RepeatPer(per), Count: rapid.IntRange(0, mostTimes).Draw(t, "count"), Times: rapid.IntRange(0, mostTimes).Draw(t, "times")}
		}
		if rapid.Bool().Draw(t, "when") {
			i.When = Condition{Item: ItemID(words.Draw(t, "item")), Result: Result(of(t, "result", resultInFile())), Choice: words.Draw(t, "choice"), From: bound(t, "from"), To: bound(t, "to")}
		}
		return i
	})
	return rapid.Custom(func(t *rapid.T) List {
		l := List{ID: ListID(rapid.SampledFrom([]string{"pre-shift", "null", "true", "1", "007", "-", "1e5", "no"}).Draw(t, "id")), Title: words.Draw(t, "title"), Version: rapid.IntRange(0, 99).Draw(t, "version"), Repeats: rapid.IntRange(0, 99).Draw(t, "repeats")}
		if l.Version > 0 {
			l.InForce = time.Unix(0, rapid.Int64().Draw(t, "in force")).UTC()
		}
		l.Schedule.On = none(rapid.SliceOfN(rapid.SampledFrom(EventKinds()), 0, 3).Draw(t, "on"))
		l.Schedule.Every, l.Schedule.Hours = Period(of(t, "every", find(scheduleInFile(), "every"))), rapid.Float64Range(0, mostHours).Draw(t, "hours")
		l.Schedule.Days, l.Schedule.Grace = rapid.IntRange(0, mostDays).Draw(t, "days"), rapid.IntRange(0, mostGrace).Draw(t, "grace")
		l.Schedule.Holds, l.Schedule.HoldsLate = rapid.Bool().Draw(t, "holds"), rapid.Bool().Draw(t, "late")
		l.Schedule.Meter, l.Schedule.Role = MeterID(words.Draw(t, "meter")), procedures.Role(of(t, "role", same("operator", "supervisor")))
		for _, person := range rapid.SliceOfN(words, 0, 2).Draw(t, "people") {
			l.Schedule.People = append(l.Schedule.People, procedures.PersonID(person))
		}
		for n, one := range rapid.SliceOfN(item, 0, 4).Draw(t, "items") {
			one.ID = ItemID(rapid.SampledFrom([]string{"C", "é-", "1", "_", "null", "true"}).Draw(t, "id") + string(rune('a'+n)))
			l.Items = append(l.Items, one)
		}
		for range rapid.IntRange(0, 2).Draw(t, "loosened") {
			l.Loosened = append(l.Loosened, Loosened{Item: ItemID(words.Draw(t, "item")), Prompt: words.Draw(t, "prompt"), Source: words.Draw(t, "rule"), Reason: "r" + words.Draw(t, "reason")})
		}
		return l
	})
}

func TestWhatIsExportedIsImportedAgainWithTheSameDigest(t *testing.T) {
	schema := compiled(t)
	rapid.Check(t, func(t *rapid.T) {
		list := lists().Draw(t, "list")
		file, err := list.Export()
		require.NoError(t, err)
		back, err := Import(file)
		require.NoError(t, err, "%s", file)
		require.Equal(t, list, back, "%s", file)
		before, err := list.Digest()
		require.NoError(t, err)
		after, err := back.Digest()
		require.NoError(t, err)
		require.Equal(t, before, after)
		require.True(t, accepts(schema, file), "%s", file)
	})
}
