package server_test

import (
	"bytes"
	"html"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
	"stillsaw/server/table"
)

// poppler runs a tool of another program that reads PDFs.
func poppler(t *testing.T, tool string, arguments ...string) string {
	t.Helper()
	path, err := exec.LookPath(tool)
	if err != nil {
		require.Empty(t, os.Getenv("CI"), "CI must have poppler-utils")
		t.Skip("no poppler-utils on this machine")
	}
	var complaints bytes.Buffer
	command := exec.CommandContext(t.Context(), path, arguments...)
	command.Stderr = &complaints
	out, err := command.Output()
	require.NoError(t, err, complaints.String())
	require.Empty(t, complaints.String(), "it reads the file without a complaint")
	return string(out)
}

// printedText is what poppler reads on a PDF, and its number of pages.
func printedText(t *testing.T, c caller, name, query string) (text, pages string) {
	t.Helper()
	status, body := c.ask("/export.pdf?"+query, nil)
	require.Equal(t, http.StatusOK, status, body)
	dir := t.TempDir()
	if keep := os.Getenv("STILLSAW_SHOTS"); keep != "" {
		dir = keep
	}
	file := filepath.Join(dir, "export-"+name+".pdf")
	require.NoError(t, os.WriteFile(file, []byte(body), 0o600))
	_, pages, _ = strings.Cut(poppler(t, "pdfinfo", file), "Pages:")
	pages, _, _ = strings.Cut(strings.TrimSpace(pages), "\n")
	return poppler(t, "pdftotext", "-layout", file, "-"), pages
}

var (
	tags    = regexp.MustCompile(`(?s)<(script|style|svg|title|select|option|datalist|nav|form)\b.*?</(script|style|svg|title|select|option|datalist|nav|form)>|<[^>]*>`)
	lockout = regexp.MustCompile(`(?s)<li>\s*<p class="since"><strong>Lockout</strong>.*?</li>`) // word by word in its own print
	links   = regexp.MustCompile(`(?s)<p class="links">.*?</p>`)
	figure  = regexp.MustCompile(`\d+(?:[.,:/]\d+)*`)
	running = regexp.MustCompile(`(?m)^.*(Page \d+ of \d+|^Made .* entries of the record).*$`)
)

// figuresOf are the numbers that stand in a text, each once.
func figuresOf(text string) []string {
	all := figure.FindAllString(text, -1)
	slices.Sort(all)
	return slices.Compact(all)
}

// screenText is what a page's main part says, forms and links aside.
func screenText(t *testing.T, c caller, path string) string {
	t.Helper()
	return screenWithout(t, c, path, links)
}

func screenWithout(t *testing.T, c caller, path string, left *regexp.Regexp) string {
	t.Helper()
	status, body := c.ask(path, nil)
	require.Equal(t, http.StatusOK, status, path)
	_, main, _ := strings.Cut(body, "<main")
	_, title, _ := strings.Cut(body, "<title>")
	title, _, _ = strings.Cut(title, "</title>")
	main, _, _ = strings.Cut(main, "</main>")
	main, _, _ = strings.Cut(main, `id="again"`)
	if strings.HasPrefix(path, "/lifts/") { // whether it still stands is no part of what was kept
		_, main, _ = strings.Cut(main, `class="verdict"`)
	}
	return html.UnescapeString(title + " " + tags.ReplaceAllString(links.ReplaceAllString(left.ReplaceAllString("<main"+main, " "), " "), " "))
}

// Of what is printed every figure stands on the screens it was taken from, and
// of the screens' own every figure is printed.
func TestExportsOfTheDemo(t *testing.T) {
	t.Parallel()
	s, st, people := demoServer(t)
	c := signedIn(t, s, st, people[0])
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	desk := st.Of(mill.ID)
	newest := func(kind string) store.Entry {
		entries, _, err := desk.Entries(t.Context(), store.Filter{Kind: kind, Limit: 1})
		require.NoError(t, err)
		require.NotEmpty(t, entries, kind)
		return entries[0]
	}
	t.Run("every figure is the screen's", func(t *testing.T) {
		for _, one := range []struct{ kind, place string }{{store.KindInspection, "/inspections/"}, {store.KindLift, "/lifts/"}, {store.KindLockout, "/lockouts/"}, {store.KindMended, "/defects/"}, {store.KindAmendment, "/inspections/"}, {store.KindIncident, "/incidents/"}} {
			subject := newest(one.kind).Subject
			figuresAgree(t, c, desk, one.kind, store.Selection{Subject: subject}, one.place+subject)
		}
	})
	t.Run("a defect found in a check and not yet seen to", func(t *testing.T) {
		open, err := desk.Defects(t.Context(), true, 1)
		require.NoError(t, err)
		require.NotEmpty(t, open)
		require.NotEmpty(t, open[0].Inspection)
		figuresAgree(t, c, desk, "found", store.Selection{Subject: string(open[0].ID)}, "/defects/"+string(open[0].ID))
		text, _ := printedText(t, c, "found", "subject="+string(open[0].ID))
		require.Contains(t, text, open[0].What)
		require.NotContains(t, text, "Nothing the record knows")
	})
	t.Run("a day is a page, and agrees with its screen", func(t *testing.T) {
		day := "2026-05-12"
		figuresAgree(t, c, desk, "day", store.Selection{From: day, Until: day}, "/record?day="+day)
	})
	t.Run("what is kept back is not printed", func(t *testing.T) { keptBack(t, c, desk) })
	t.Run("the table comes back as it was", func(t *testing.T) { tableComesBack(t, c, desk) })
	t.Run("the checkpoint on it is kept", func(t *testing.T) {
		text, _ := printedText(t, c, "kept", "subject="+newest(store.KindLift).Subject)
		kept, err := desk.KeptCheckpoints(t.Context(), 1000)
		require.NoError(t, err)
		on := slices.IndexFunc(kept, func(k store.KeptCheckpoint) bool {
			return strings.Contains(text, k.Root.String())
		})
		require.GreaterOrEqual(t, on, 0)
	})
}

// figuresAgree holds the print of a selection against the screens that show it.
func figuresAgree(t *testing.T, c caller, desk *store.Mill, name string, selection store.Selection, page string) {
	t.Helper()
	query := "from=" + selection.From + "&until=" + selection.Until + "&subject=" + selection.Subject
	text, pages := printedText(t, c, name, query)
	content, proof, found := strings.Cut(text, "Proof, in small print")
	require.True(t, found, name)
	content = running.ReplaceAllString(content, "")
	screen, shown := screenWithout(t, c, page, lockout), screenText(t, c, page)
	for next := page; selection.From != ""; {
		_, body := c.ask(next, nil)
		_, after, more := strings.Cut(body, `rel="next"`)
		if !more {
			break
		}
		_, after, _ = strings.Cut(after, `href="`)
		next, _, _ = strings.Cut(after, `"`)
		next = html.UnescapeString(next)
		screen += screenWithout(t, c, next, lockout)
		shown += screenText(t, c, next)
	}
	if selection.From != "" {
		require.LessOrEqual(t, pages, "2", "an ordinary day and its proof")
	}
	assert.Empty(t, lacking(screen, content), "%s: on the screen, not printed", name)
	// The entries beside it have screens of their own.
	_, body := c.ask(page, nil)
	for _, link := range regexp.MustCompile(`href="(/(?:lockouts|inspections)/[^"#]+)"`).FindAllStringSubmatch(body, -1) {
		shown += screenText(t, c, link[1]) // the lockout it was done under, the check it was found in
	}
	_, err := desk.Export(t.Context(), selection, store.Withhold{}, func(x store.Exported) error {
		if x.Also {
			return nil
		}
		shown += screenText(t, c, "/record/"+itoa(x.Row.Seq))
		return nil
	})
	require.NoError(t, err)
	assert.Empty(t, lacking(content, shown), "%s: printed, on no screen", name)
	head, err := desk.Head(t.Context())
	require.NoError(t, err)
	require.Contains(t, proof, head.Root.String())
	require.Contains(t, proof, "\n"+itoa(head.Size)+"\n")
}

// lacking are the figures of text that other hasn't, each with what stands
// around it.
func lacking(text, other string) (missing []string) {
	has := figuresOf(other)
	for _, at := range figure.FindAllStringIndex(text, -1) {
		if !slices.Contains(has, text[at[0]:at[1]]) {
			missing = append(missing, text[max(0, at[0]-40):min(len(text), at[1]+20)])
		}
	}
	return missing
}

// keptBack looks for names and notes in what must not hold them.
func keptBack(t *testing.T, c caller, desk *store.Mill) {
	crew, err := desk.People(t.Context())
	require.NoError(t, err)
	var notes []string
	_, err = desk.Export(t.Context(), store.Selection{From: "2026-05-04", Until: "2026-05-12"}, store.Withhold{}, func(x store.Exported) error {
		if x.Also {
			return nil
		}
		for _, o := range x.Row.Openings {
			if len(o.Value) > 12 && strings.Contains(o.Value, " ") && strings.HasSuffix(o.Path, "note") {
				notes = append(notes, o.Value)
			}
		}
		return nil
	})
	require.NoError(t, err)
	require.NotEmpty(t, notes)
	flat := func(text string) string { return strings.Join(strings.Fields(text), " ") }
	query := "from=2026-05-04&until=2026-05-12"
	open, _ := printedText(t, c, "week", query)
	_, all := c.ask("/export.csv?"+query, nil)
	query += "&without-names=yes&without-notes=yes"
	shut, _ := printedText(t, c, "week-withheld", query)
	_, some := c.ask("/export.csv?"+query, nil)
	require.Contains(t, open, "Oren Tolliver")
	require.Contains(t, all, notes[0])
	require.Contains(t, shut, "Withheld in this export: names of people; notes and reasons.")
	for _, one := range crew {
		require.NotContains(t, shut, one.Name)
		require.NotContains(t, some, one.Name)
	}
	for _, note := range notes {
		require.NotContains(t, some, note)
		require.NotContains(t, flat(shut), flat(note))
	}
}

// tableComesBack reads a week's table, writes it again, and holds its readings
// against the screen of the inspection they were taken in.
func tableComesBack(t *testing.T, c caller, desk *store.Mill) {
	status, text := c.ask("/export.csv?from=2026-05-04&until=2026-05-13", nil)
	require.Equal(t, http.StatusOK, status, text)
	var again bytes.Buffer
	w, err := table.NewWriter(&again)
	require.NoError(t, err)
	rows := map[int64]int64{}
	readings, screens := 0, map[string]string{}
	require.NoError(t, table.Read(strings.NewReader(text), func(r table.Row) error {
		rows[r.Seq]++
		if r.Sort == table.OfAnswer && r.Kind == store.KindInspection && r.Reading != nil && readings < 40 {
			if screens[r.Subject] == "" {
				screens[r.Subject] = screenText(t, c, "/inspections/"+r.Subject)
			}
			require.Contains(t, screens[r.Subject], numeral(*r.Reading)+" "+r.Unit)
			require.Contains(t, screens[r.Subject], r.ItemText)
			readings++
		}
		return w.Write(r)
	}))
	require.NoError(t, w.Close())
	require.Equal(t, text, again.String())
	require.Greater(t, readings, 10)
	n, err := desk.ExportSize(t.Context(), store.Selection{From: "2026-05-04", Until: "2026-05-13"})
	require.NoError(t, err)
	require.EqualValues(t, n, len(rows), "every entry has a row")
}

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

func numeral(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
