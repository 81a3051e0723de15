package server

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"

	"stillsaw/checklists"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// exportZIP is an export of a small mill with a photo and two files beside it.
func exportZIP(t *testing.T, m *testMill) []byte {
	t.Helper()
	digest, err := m.desk().KeepPhoto(t.Context(), store.Photo{Type: "image/jpeg", Width: 1, Height: 1, Bytes: []byte("a picture of a bent hook")}, m.clock.Now())
	require.NoError(t, err)
	_, err = m.desk().StopIt(t.Context(), store.NewID(), checklists.Defect{Equipment: "hoist", What: "hook bent", Photo: digest}, m.people["ada"], m.clock.Now())
	require.NoError(t, err)
	_, err = m.desk().EnsureKey(t.Context(), m.clock.Now())
	require.NoError(t, err)
	fixed := func(name, text string) besideExport {
		return besideExport{name: name, end: func(w io.Writer) error { _, err := io.WriteString(w, text); return err }}
	}
	order := exportOrder{desk: m.desk(), mill: m.mill, words: "everything", out: "nothing", by: m.people["sam"], now: m.clock.Now()}
	var out bytes.Buffer
	made, err := order.writeZip(t.Context(), &out, fixed(exportPDFName, "%PDF"), fixed(exportCSVName, "a,b\n"))
	require.NoError(t, err)
	require.NotEmpty(t, made.Text)
	return out.Bytes()
}

// exportWithout is an export of everything but one entry, by who holds the key.
func exportWithout(t *testing.T, m *testMill, left int64) string {
	t.Helper()
	order := exportOrder{desk: m.desk(), mill: m.mill, words: "everything", out: "nothing", withhold: store.Withhold{Photos: true}, by: m.people["sam"], now: m.clock.Now()}
	var out bytes.Buffer
	var w *record.ExportWriter
	var key note.Signer
	require.NoError(t, m.desk().ExportUnder(t.Context(), order.selection, order.withhold, func(c store.Checkpoint, signer note.Signer) (err error) {
		key = signer
		w, err = record.NewExportWriter(&out, order.header(c))
		return err
	}, func(e store.Exported) error {
		if e.Also {
			return w.Also(e.Row, e.Proof)
		}
		if e.Row.Seq == left {
			return nil
		}
		return w.Entry(e.Row, e.Proof)
	}))
	require.NoError(t, w.Close(nil, key))
	return out.String()
}

func members(t *testing.T, archive []byte) map[string]string {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	require.NoError(t, err)
	found := map[string]string{}
	for _, file := range in.File {
		require.Equal(t, zip.Store, file.Method, "%s is packed: not every browser unpacks it", file.Name)
		content, err := file.Open()
		require.NoError(t, err)
		text, err := io.ReadAll(content)
		require.NoError(t, err)
		found[file.Name] = string(text)
	}
	return found
}

func zipOf(t *testing.T, files map[string]string, method uint16) string {
	t.Helper()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for name, text := range files {
		into, err := w.CreateHeader(&zip.FileHeader{Name: name, Method: method})
		require.NoError(t, err)
		_, err = io.WriteString(into, text)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return out.String()
}

// placesOf are the places that package record, and with it the command line, names.
func placesOf(t *testing.T, files map[string]string) []string {
	t.Helper()
	var report *record.ExportReport
	var beside []record.ExportFile
	for name, text := range files {
		switch {
		case strings.HasSuffix(name, ".zip"):
			archive, err := zip.NewReader(strings.NewReader(text), int64(len(text)))
			require.NoError(t, err)
			report, err = record.ReadExportZip(archive, record.ExportHold{})
			require.NoError(t, err)
		case strings.HasSuffix(name, ".json"):
			report = record.ReadExport(strings.NewReader(text), record.ExportHold{})
		default:
			file, err := record.GivenFile(name, strings.NewReader(text))
			require.NoError(t, err)
			beside = append(beside, file)
		}
	}
	if len(beside) > 0 {
		report.HoldFiles(beside, false)
	}
	places := []string{}
	for _, f := range report.Faults {
		places = append(places, f.Place)
	}
	slices.Sort(places)
	return places
}

// alterations of an export: what is given to be checked.
func alterations(t *testing.T, sound map[string]string) map[string]map[string]string {
	json := sound[exportJSONName]
	first := func(pattern string) string { return regexp.MustCompile(pattern).FindStringSubmatch(json)[1] }
	swap := func(old, new string) map[string]string {
		require.Contains(t, json, old)
		return map[string]string{exportJSONName: strings.Replace(json, old, new, 1)}
	}
	with := func(name, text string) map[string]string {
		changed := map[string]string{}
		for n, t := range sound {
			changed[n] = t
		}
		changed[name] = text
		if text == "" {
			delete(changed, name)
		}
		return changed
	}
	lines := strings.SplitAfter(json, "\n")
	hash, proof, salt := first(`"hash":"([^"]+)"`), first(`"proof":\["([^"]+)"`), first(`"salt":"([^"]+)"`)
	zero := strings.Repeat("A", 43) + "="
	return map[string]map[string]string{
		"a leaf":          swap(`\"kind\":\"defect\"`, `\"kind\":\"defekt\"`),
		"a value":         swap(`"value":"hook bent"`, `"value":"hook lent"`),
		"a salt":          swap(salt, zero),
		"a proof":         swap(proof, zero),
		"a noted hash":    swap(hash, zero),
		"the checkpoint":  swap(`"checkpoint":"stillsaw/`, `"checkpoint":"stillsow/`),
		"the mill":        swap(`"name":"`, `"name":"New `),
		"who made it":     swap(`"by":{"id":"`, `"by":{"id":"x`),
		"what was asked":  swap(`"words":"everything"`, `"words":"all of 2026"`),
		"the photo":       swap(`"bytes":"YSBwaWN0dXJl`, `"bytes":"YSBwaWN0dXJm`),
		"the counts":      swap(`"photos":1`, `"photos":2`),
		"the files":       swap(`"size":4`, `"size":5`),
		"the seal":        swap(`stillsaw-export-seal-1`, `stillsaw-export-seal-9`),
		"an entry gone":   swap(lines[10], ""),
		"entries turned":  swap(lines[9]+lines[10], lines[10]+lines[9]),
		"a space":         swap(`"seq":2`, `"seq": 2`),
		"a broken line":   swap(`"seq":2}`, `"seq":2`),
		"cut short":       {exportJSONName: json[:len(json)-1000]},
		"something after": {exportJSONName: json + "x"},
		"another table":   {exportJSONName: json, exportCSVName: "a,c\n"},
		"a strange file":  {exportJSONName: json, "notes.txt": "hello"},
		"table in a ZIP":  {"export.zip": zipOf(t, with(exportCSVName, "a,c\n"), zip.Store)},
		"sheet gone":      {"export.zip": zipOf(t, with(exportPDFName, ""), zip.Store)},
		"more in a ZIP":   {"export.zip": zipOf(t, with("notes.txt", "hello"), zip.Deflate)},
		"page in a ZIP":   {"export.zip": zipOf(t, with(exportPageName, "<p>all is well"), zip.Store)},
	}
}

func TestTheVerifyingPageSaysWhatTheProgramSays(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts a browser")
	}
	m := newMill(t)
	archive := exportZIP(t, m)
	sound := members(t, archive)
	require.Len(t, sound, 5)
	dir := t.TempDir()
	page := filepath.Join(dir, exportPageName)
	require.NoError(t, os.WriteFile(page, []byte(sound[exportPageName]), 0o600))
	served := m.phone().get("/export/verify.html")
	require.Equal(t, http.StatusOK, served.Status)
	require.Equal(t, sound[exportPageName], served.Body)

	b := newBrowser(t, "file://"+dir, true)
	b.open("/" + exportPageName)
	done := 0
	says := func(what string, files map[string]string) []string {
		t.Helper()
		var paths []string
		into := t.TempDir()
		for name, text := range files {
			paths = append(paths, filepath.Join(into, name))
			require.NoError(t, os.WriteFile(paths[len(paths)-1], []byte(text), 0o600))
		}
		done++
		b.within(what, chromedp.SetUploadFiles("#files", paths), chromedp.WaitVisible(fmt.Sprintf(`#answer[data-done="%d"]`, done)))
		places, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`[...document.querySelectorAll("#answer section")].flatMap((s) => s.dataset.places.split("\n")).filter((p) => p)`))
		require.NoError(t, err)
		slices.Sort(places)
		return places
	}
	untouched := map[string]map[string]string{
		"alone": {exportJSONName: sound[exportJSONName]}, "with the table": {exportJSONName: sound[exportJSONName], exportCSVName: sound[exportCSVName]},
		"the ZIP": {"export.zip": string(archive)}, "packed anew": {"export.zip": zipOf(t, sound, zip.Deflate)},
	}
	for what, files := range untouched {
		require.Empty(t, placesOf(t, files), what)
		require.Empty(t, says(what, files), what)
		require.Contains(t, b.text(), "Sound: nothing in", what)
	}
	altered := alterations(t, sound)
	altered["one left out, sealed anew"] = map[string]string{exportJSONName: exportWithout(t, m, 3)}
	for what, files := range altered {
		want := placesOf(t, files)
		require.NotEmpty(t, want, what)
		require.Equal(t, want, says(what, files), what)
		require.Contains(t, b.text(), "Altered:", what)
	}
}
