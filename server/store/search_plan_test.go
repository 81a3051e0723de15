package store

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures"
	"stillsaw/server/record"
)

// firstTelling asks each value what it is, as was done at first.
type firstTelling telling

func (t *firstTelling) add(v reflect.Value) {
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

func (t *firstTelling) text(v reflect.Value) {
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

// requireToldAsAtFirst requires of a value what was found in it at first. Who and
// which machines come again are told once at the end.
func requireToldAsAtFirst(t require.TestingT, value any, why string) {
	var want firstTelling
	want.add(reflect.ValueOf(value))
	var got telling
	got.add(value)
	require.Equal(t, want.Texts, got.Texts, why)
	require.Equal(t, slices.Compact(want.People), slices.Compact(got.People), why)
	require.Equal(t, slices.Compact(want.Equipment), slices.Compact(got.Equipment), why)
}

func TestEntriesOfEveryKindAreFoundByWhatTheyWereAtFirst(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(examples, "*.json"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	texts := 0
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		var kept example
		require.NoError(t, json.Unmarshal(text, &kept), file)
		opened, err := record.Read([]byte(kept.Leaf), kept.Openings)
		require.NoError(t, err, file)
		b, err := decode(opened.Kind, opened.Version, opened)
		require.NoError(t, err, file)
		requireToldAsAtFirst(t, b, file)
		requireToldAsAtFirst(t, domainOf(b), file)
		texts += len(tell(b).Texts)
	}
	require.Greater(t, texts, len(files))
	requireToldAsAtFirst(t, signedWalk(30), "a walk")
	requireToldAsAtFirst(t, Publication{Title: "a list", Doc: "not JSON, and read as it stands"}, "damaged")
	requireToldAsAtFirst(t, nil, "nothing")
}

type told struct {
	toldInner
	Next   *told `json:"next"`
	Any    any   `json:"any"`
	List   [2][]toldInner
	ByID   map[procedures.EquipmentID]toldInner
	Hidden string `json:"-"`
	Raw    json.RawMessage
	Many   map[int]bool
	At     time.Time
	own    string
}

type toldInner struct {
	Text    string
	Said    record.Personal
	Who     procedures.PersonID
	Machine procedures.EquipmentID
	Other   procedures.LockoutID
	Number  *float64
}

func TestWhatIsDrawnIsToldAsAtFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SampledFrom([]string{"", "Hook S-12", "ada", "01970000-0000-7000-8000-000000000001", "2026-03-12T10:00:00Z", "{\"a\":1}", "\xff"})
		inner := func() toldInner {
			return toldInner{text.Draw(t, "text"), record.Personal(text.Draw(t, "said")), procedures.PersonID(text.Draw(t, "who")), procedures.EquipmentID(text.Draw(t, "machine")), "other", nil}
		}
		one := told{toldInner: inner(), Hidden: "hidden", Raw: json.RawMessage(`"raw"`), own: "own", Any: rapid.SampledFrom([]any{nil, "any", 3, []any{"a", &toldInner{Text: "b"}}, (*told)(nil)}).Draw(t, "any")}
		for range rapid.IntRange(0, 3).Draw(t, "list") {
			one.List[1] = append(one.List[1], inner())
		}
		if rapid.Bool().Draw(t, "by id") {
			one.ByID = map[procedures.EquipmentID]toldInner{"saw": inner()} // one: the order of several is not told
		}
		requireToldAsAtFirst(t, &told{Next: &one, toldInner: inner()}, "drawn")
		requireToldAsAtFirst(t, one, "drawn")
	})
}
