package server_test

import (
	"html"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/server/sample"
)

var (
	recordLine = regexp.MustCompile(`(?s)<li>\s*<p class="since"><strong>([^<]*)</strong>.*?</p>\s*<p>(.*?)</p>.*?href="/record/(\d+)"`)
	onlyLetter = regexp.MustCompile(`^\p{L}[\p{L}'-]*$`)
)

// What a line of the record says is found by its own words: of each kind of line
// some are tried, by the words that stand in it.
func TestLineOfTheRecordIsFoundByItsOwnWords(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("reads the whole record, page by page")
	}
	s, st, people := demoServer(t)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	for left := int64(1); left > 0; {
		left, err = st.Of(mill.ID).FillSearch(t.Context())
		require.NoError(t, err)
	}
	c := signedIn(t, s, st, people[0])
	page := func(query url.Values) string {
		status, body := c.ask("/record?"+query.Encode(), nil)
		require.Equal(t, 200, status, query)
		return body
	}
	kinds := []string{"Lift", "Gear inspected", "Gear measured", "Inspection", "Published", "Lockout", "Stopped", "Mended", "Returned to service", "Equipment"}
	tried := map[string]int{}
	each := map[bool]int{true: 2, false: 1}[sample.Whole()]
	open := func(kind string) bool { return tried[kind] < each }
	for before := "1000000"; before > "0" && slices.ContainsFunc(kinds, open); {
		lines := recordLine.FindAllStringSubmatch(page(url.Values{"before": {before}}), -1)
		require.NotEmpty(t, lines)
		for _, line := range lines {
			kind, said, seq := line[1], html.UnescapeString(line[2]), line[3]
			before = seq
			if strings.HasSuffix(said, "nothing said yet") {
				continue // of what is not there the entry has no words
			}
			if _, step, is := strings.Cut(said, ", reported done: "); is {
				said = step // the stage stands before it, of which the entry knows no word
			}
			if !slices.Contains(kinds, kind) {
				continue
			}
			var words []string
			for _, word := range strings.FieldsFunc(said, func(r rune) bool { return strings.ContainsRune(" ,.:;()“”–—/", r) }) {
				if onlyLetter.MatchString(word) && len(words) < 12 {
					words = append(words, word)
				}
			}
			shape := kind + ": " + words[len(words)-1]
			if tried[kind]++; tried[shape] > 0 || tried[kind] > each {
				continue
			}
			tried[shape]++
			n, err := strconv.Atoi(seq)
			require.NoError(t, err)
			found := page(url.Values{"q": {strings.Join(words, " ")}, "before": {strconv.Itoa(n + 1)}})
			assert.Contains(t, found, `"/record/`+seq+`"`, "%s: %s, looked for by %v", kind, said, words)
		}
	}
	require.Greater(t, len(tried), 7*each)
}

func TestVerdictAndPartsOfARigAreFound(t *testing.T) {
	s, st, people := demoServer(t)
	c := signedIn(t, s, st, people[0])
	for query, want := range map[string]string{"NO-GO": "NO-GO for a lift", `"Electric chain hoist" passed`: "inspected and passed", "chain legs": "inspected and passed", "5/12/2026": "· yesterday "} {
		status, body := c.ask("/record?q="+url.QueryEscape(query), nil)
		require.Equal(t, 200, status)
		lines := recordLine.FindAllStringSubmatch(body, -1)
		require.NotEmpty(t, lines, query)
		plain := strings.NewReplacer("<mark>", "", "</mark>", "").Replace(body)
		assert.Contains(t, plain, want, query)
	}
	_, body := c.ask("/record?q=go&kind=lift", nil)
	require.NotContains(t, body, "NO-<mark>GO", "GO finds no NO-GO")
}
