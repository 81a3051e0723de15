package server_test

import (
	"encoding/json"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/record"
	"stillsaw/server/sample"
	"stillsaw/server/store"
	"stillsaw/server/table"
)

// Of the demo's whole record, with names kept back, no name of anybody stands in
// the table, on paper or in JSON; with notes kept back, too, nothing that anybody
// wrote does. What stands in leaves in the clear names nobody there.
func TestNobodyIsNamedWhereNamesAreKeptBack(t *testing.T) {
	t.Parallel()
	s, st, people := demoServer(t)
	c := signedIn(t, s, st, people[0])
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	desk := st.Of(mill.ID)
	names, err := desk.Names(t.Context())
	require.NoError(t, err)
	crew, err := desk.People(t.Context())
	require.NoError(t, err)
	card, err := desk.EmergencyCard(t.Context())
	require.NoError(t, err)
	called := slices.Concat(card.FirstAiders)
	for _, one := range card.Contacts {
		called = append(called, one.Who)
	}
	for _, one := range crew {
		called = append(called, one.Name)
	}
	var parts []string
	for _, name := range called {
		parts = append(parts, name)
		for _, part := range strings.Fields(name) {
			if len(part) >= 3 {
				parts = append(parts, part)
			}
		}
	}
	require.Contains(t, parts, "Marta")
	for i := range parts {
		parts[i] = regexp.QuoteMeta(parts[i])
	}
	named := regexp.MustCompile(`\b(` + strings.Join(parts, "|") + `)s?\b`) // in digests letters come together by chance
	nobody := func(t *testing.T, text, where string) {
		t.Helper()
		if at := named.FindStringIndex(text); at != nil {
			require.Fail(t, "named in "+where, "…%s…", text[max(0, at[0]-80):min(len(text), at[1]+80)])
		}
	}

	t.Run("JSON", func(t *testing.T) {
		status, text := c.ask("/export.json?from=&without-names=yes&without-photos=yes", nil)
		require.Equal(t, http.StatusOK, status)
		nobody(t, text, "JSON")
		read := record.ReadExport(strings.NewReader(text), record.ExportHold{})
		require.Empty(t, read.Faults)
		require.Greater(t, read.Counts.Openings, int64(1000), "what names nobody is still shown")
		_, text = c.ask("/export.json?from=&without-names=yes&without-notes=yes&without-photos=yes", nil)
		require.NotContains(t, text, `"value":`)
		require.NotContains(t, text, "signs for it")
	})
	t.Run("table", func(t *testing.T) {
		status, text := c.ask("/export.csv?from=&without-names=yes", nil)
		require.Equal(t, http.StatusOK, status)
		nobody(t, text, "table")
		marked := map[string]int{}
		require.NoError(t, table.Read(strings.NewReader(text), func(r table.Row) error {
			for column, shown := range map[string]string{"actor": r.Actor, "text": r.Text, "note": r.Note, "said": r.Said, "equipment": r.Equipment, "list": r.ListTitle, "item": r.ItemText} {
				switch told := slices.Contains(strings.Fields(r.Withheld), column); {
				case told && shown != "" && !strings.Contains(shown, "withheld"), shown == "withheld" && !told:
					require.Fail(t, "withheld and not told, or told and shown", "entry %d, %s: %q, %q", r.Seq, column, shown, r.Withheld)
				case told:
					marked[column]++
				}
			}
			return nil
		}))
		kept := 0
		_, err = desk.Export(t.Context(), store.Selection{}, store.Withhold{Names: true}, func(x store.Exported) error {
			for _, path := range x.Withheld {
				if strings.HasPrefix(path, "/answers/") && strings.HasSuffix(path, "/text") {
					kept++
				}
			}
			return nil
		})
		require.NoError(t, err)
		require.Greater(t, kept, 100, "who was working")
		require.GreaterOrEqual(t, marked["text"], kept)
		require.Zero(t, marked["item"]+marked["list"]+marked["equipment"])
		_, text = c.ask("/export.csv?from=&without-names=yes&without-notes=yes", nil)
		var notes []string
		_, err := desk.Export(t.Context(), store.Selection{}, store.Withhold{}, func(x store.Exported) error {
			for _, o := range x.Row.Openings {
				if len(o.Value) > 12 && strings.Contains(o.Value, " ") && !json.Valid([]byte(o.Value)) {
					notes = append(notes, o.Value)
				}
			}
			return nil
		})
		require.NoError(t, err)
		require.Greater(t, len(notes), 100)
		slices.Sort(notes)
		for _, note := range slices.Compact(notes) {
			require.NotContains(t, text, note)
		}
	})
	t.Run("paper", func(t *testing.T) {
		text, _ := printedText(t, c, "nobody", "from=2026-04-20&until=2026-05-20&without-names=yes")
		nobody(t, text, "print")
		for i, kind := range []string{store.KindInspection, store.KindLockout, store.KindMended, store.KindIncident, store.KindLift, store.KindProgram, store.KindEmergencyCard} {
			if !sample.Has(i, 3) {
				continue
			}
			entries, _, err := desk.Entries(t.Context(), store.Filter{Kind: kind, Limit: 1})
			require.NoError(t, err)
			require.NotEmpty(t, entries, kind)
			text, _ := printedText(t, c, "nobody-"+kind, "from=&subject="+entries[0].Subject+"&without-names=yes")
			nobody(t, text, kind)
		}
	})
	require.True(t, names.In("Marta signs for it"))
}
