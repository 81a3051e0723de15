package server_test

import (
	"encoding/json"
	"regexp"
	"slices"
	"sort"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/server"
	"stillsaw/server/store"
	"stillsaw/server/store/lent"
)

// notOwn is what is left of a text without what the mill wrote itself and what is
// the same in every language.
func (w *wordWalk) notOwn(text string) string {
	// One may hold a piece of the other, so either may be taken out first.
	first := w.withoutOwn(inEveryLanguage.ReplaceAllString(text, " "))
	second := inEveryLanguage.ReplaceAllString(w.withoutOwn(text), " ")
	if !wordIn.MatchString(first) || !wordIn.MatchString(second) {
		return ""
	}
	return strings.Join(wordIn.FindAllString(second, -1), " ")
}

func (w *wordWalk) withoutOwn(text string) string {
	for _, own := range w.own {
		if left := cutOut(text, own); len(left) != len(text) {
			if text = left; !wordIn.MatchString(text) {
				return ""
			}
		}
		if cut := strings.Index(text, "…"); cut > 12 {
			for at := cut - 12; at >= 0; at-- { // the beginning of what was written
				if strings.HasPrefix(own, strings.TrimSpace(text[at:cut])) {
					text = text[:at] + text[cut:]
					break
				}
			}
		}
	}
	return text
}

// cutOut takes out what was written wherever it is no part of a longer word.
func cutOut(text, own string) string {
	for from := 0; ; {
		at := strings.Index(text[from:], own)
		if at < 0 {
			return text
		}
		at += from
		end := at + len(own)
		before, _ := utf8.DecodeLastRuneInString(text[:at])
		after, _ := utf8.DecodeRuneInString(text[end:])
		first, _ := utf8.DecodeRuneInString(own)
		last, _ := utf8.DecodeLastRuneInString(own)
		if unicode.IsLetter(before) && unicode.IsLetter(first) || unicode.IsLetter(last) && unicode.IsLetter(after) {
			from = end
			continue
		}
		text = text[:at] + " " + text[end:]
		from = at + 1
	}
}

// inEveryLanguage are rules by their number and what they are called, addresses,
// keys, the canonical text of an entry and zones of time.
var inEveryLanguage = regexp.MustCompile(`\b\d+ CFR [\d.()a-zA-Z]+(?: \([a-z\d]+\))*(?: (?:and )?\([a-z\d]+\)[()a-zA-Z\d]*,?)*(?:,? (?:and )?(?:Appendix|Subpart|Table) [A-Z\d-]+)*(?: to \.\d+)?(?:, \([ivx]+\))*|(?:\([a-z\d]{1,3}\))+|` +
	`[A-Za-z'() -]+ \([A-Z][a-z]+ [a-z]+\)|\((?:Washington|Michigan|Pennsylvania|California)\b|^(?:lb|eo)$|` + // woods have names of their own in each language, states and units everywhere the same
	`\b(?:ASME|ANSI|WAC|NFPA|FPL-GTR|Alberta OHS Code|OSHA, Guidance on Safe Sling Use, Table)\b[ A-Z\d.-]*|\((?:from memory|Order \d+[^)]*)\)|https?://\S+|` +
	`\bstillsaw/[0-9a-f-]{36}(?:[/+ ]\S+)*|\b[A-Za-z0-9+/]{22,}=*|\S+@\S+\.example\b|"[^"]*"|\bstillsaw (?:list: \d|restore\b)|\bEnglish\b|\brpm\b|` +
	`\b[0-9A-Z]{4}(?: [0-9A-Z]{4})+|\{".*\}|\b[A-Z][a-z]+/[A-Z][A-Za-z_]+(?: York)?|\b[A-Za-z0-9+/]{43}=|\bStillsaw\b|\d (?:in|ft/min)\b|\b(?:ft/min|in w\.g\.)`)

// beside parts where a rule comes from into what is cited and what is said of it.
var beside = regexp.MustCompile(`[;,] |[()]|common practice, no source|from memory|good practice elsewhere|own (?:choice|rule)`)

// wordsOf are the texts the mill's own people wrote, or took over with a list or
// a procedure, longest first; of one word alone only those that look like a name.
func wordsOf(t *testing.T, st *store.Store) []string {
	t.Helper()
	db, err := lent.Past(server.DriverName(), st)
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	words := map[string]bool{}
	var take func(any)
	take = func(value any) {
		switch value := value.(type) {
		case map[string]any:
			for name, one := range value {
				if unit, is := one.(string); is && slices.Contains([]string{"unit", "colour", "lock_colour"}, strings.ToLower(name)) { // as the mill calls it
					words[unit] = true
				}
				if source, is := one.(string); is && strings.ToLower(name) == "source" { // what of it is the same in every language is put into it beside the rest
					for _, piece := range beside.Split(source, -1) {
						words[strings.TrimSpace(piece)] = true
					}
				}
				take(one)
			}
		case []any:
			for _, one := range value {
				take(one)
			}
		case []byte:
			take(string(value))
		case string:
			var inner any
			if strings.HasPrefix(value, "{") || strings.HasPrefix(value, "[") || strings.HasPrefix(value, `"`) {
				if json.Unmarshal([]byte(value), &inner) == nil {
					take(inner)
					return
				}
			}
			for _, line := range strings.Split(value, "\n") {
				if line = strings.Join(strings.Fields(line), " "); strings.ContainsAny(line, " ") || strings.ToLower(line) != line {
					words[line] = true
				}
			}
		}
	}
	tables, err := db.QueryContext(t.Context(), lent.Tables()+" AND name NOT LIKE 'search%'")
	require.NoError(t, err)
	var names []string
	for tables.Next() {
		var name string
		require.NoError(t, tables.Scan(&name))
		names = append(names, name)
	}
	require.NoError(t, tables.Err())
	for _, name := range names {
		rows, err := db.QueryContext(t.Context(), `SELECT * FROM "`+name+`"`)
		require.NoError(t, err)
		columns, err := rows.Columns()
		require.NoError(t, err)
		values := make([]any, len(columns))
		into := make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		for rows.Next() {
			require.NoError(t, rows.Scan(into...))
			take(slicesOf(values))
		}
		require.NoError(t, rows.Err())
	}
	for _, wood := range lift.AllSpecies() { // by the names the table publishes them under
		words[wood.Common], words[wood.Scientific] = true, true
	}
	all := make([]string, 0, len(words))
	for word := range words {
		if wordIn.MatchString(word) {
			all = append(all, word)
		}
	}
	sort.Slice(all, func(i, j int) bool { return len(all[i]) > len(all[j]) || len(all[i]) == len(all[j]) && all[i] < all[j] })
	return all
}

func slicesOf(values []any) []any { return append([]any(nil), values...) }
