package server

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/server/table"
	"stillsaw/views"
)

func (m *testMill) signs() {
	m.t.Helper()
	_, err := m.desk().EnsureKey(m.t.Context(), m.clock.Now())
	require.NoError(m.t, err)
}

func TestExportPageCountsAndOffersWhatIsAsked(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.signs()
	m.stop("ada", "hoist", "hook bent")
	reader := m.as("rita")
	today := reader.get("/export")
	require.Equal(t, http.StatusOK, today.Status)
	today.says(t, `value="2026-03-03"`)
	whole, err := m.desk().ExportSize(t.Context(), store.Selection{})
	require.NoError(t, err)
	require.Contains(t, reader.get("/export?from=").title(), "the whole record, "+itoa(whole)+" entries")
	hoist, err := m.desk().ExportSize(t.Context(), store.Selection{Equipment: "hoist"})
	require.NoError(t, err)
	require.Contains(t, reader.get("/export?from=&equipment=hoist").title(), itoa(hoist)+" entries")
	for field, query := range map[string]string{"from": "from=31.12.", "until": "from=2026-03-03&until=2026-03-01", "equipment": "equipment=nothing", "person": "person=x"} {
		for _, ending := range []string{"", ".pdf", ".csv", ".json", ".zip"} {
			page := reader.get("/export" + ending + "?" + query)
			require.Equal(t, http.StatusUnprocessableEntity, page.Status, query)
			page.says(t, `href="#f-`+field+`"`, query)
		}
	}
	record := reader.get("/record?day=2026-03-03&equipment=hoist")
	record.says(t, `href="/export?equipment=hoist&amp;from=2026-03-03&amp;until=2026-03-03"`)
}

func TestWithoutTheKeyAnExportSaysWhatToDo(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	for _, ending := range []string{"pdf", "csv", "json", "zip"} {
		page := m.as("rita").get("/export." + ending + "?from=")
		require.Equal(t, http.StatusConflict, page.Status, ending)
		page.says(t, "is not on this computer")
	}
}

// A note that a spreadsheet would run stands in the table as text, and is read
// back as it was written.
func TestAFormulaSomebodyWroteStaysTextInTheTable(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.signs()
	const formula = `=HYPERLINK("http://elsewhere","hook bent")`
	m.stop("ada", "hoist", formula)
	page := m.as("rita").get("/export.csv?from=")
	require.Equal(t, http.StatusOK, page.Status)
	require.Contains(t, page.Body, `,"'`+strings.ReplaceAll(formula, `"`, `""`)+`",`)
	var notes []string
	require.NoError(t, table.Read(strings.NewReader(page.Body), func(r table.Row) error {
		if r.Kind == store.KindDefect {
			notes = append(notes, r.Note)
			require.Equal(t, "Ada Rook", r.Actor)
			require.Equal(t, "hoist", r.EquipmentIDs)
		}
		return nil
	}))
	require.Equal(t, []string{formula}, notes)
}

func TestTooMuchForPaperIsRefusedSayingWhatToDo(t *testing.T) {
	p := exportPaper{entries: make([]paperEntry, printedMost)}
	require.ErrorContains(t, p.each(store.Exported{}), "Choose fewer days")
}

func TestAnExportsNameTellsNothingThatIsWithheld(t *testing.T) {
	for want, asked := range map[string]store.Selection{
		"record.pdf": {Person: "01990000-0000-7000-8000-0000000000aa"}, "record-2026-03-03.pdf": {From: "2026-03-03", Until: "2026-03-03"},
		"record-2026-03-03-2026-03-04-head-saw.pdf": {From: "2026-03-03", Until: "2026-03-04", Equipment: "head-saw"},
		"record-etcpasswd.pdf":                      {Equipment: procedures.EquipmentID("../etc/passwd\r\n\"")},
	} {
		require.Equal(t, want, exportAsked{Selection: asked}.file("pdf"))
	}
}

func TestExportPageShowsEmptyAndFull(t *testing.T) {
	assets, err := views.NewAssets()
	require.NoError(t, err)
	engine, err := views.NewEngine(assets)
	require.NoError(t, err)
	frame := func() *views.Frame { return &views.Frame{Title: plain.Say("a title")} }
	renderPage := func(page exportPage) string {
		var out bytes.Buffer
		require.NoError(t, engine.Render(&out, "export", page))
		return out.String()
	}
	empty := renderPage(exportPage{Frame: frame(), What: plain.Say("the whole record")})
	require.Contains(t, empty, `formaction="/export.pdf"`)
	full := exportPage{Frame: frame(), Count: printedMost + 1, Most: printedMost, Asked: exportAsked{Selection: store.Selection{Subject: "x"}}, What: plain.Say("%s", "<b>")}
	require.NotContains(t, renderPage(full), `formaction="/export.pdf"`)
	require.Contains(t, renderPage(full), "&lt;b&gt;")
}
