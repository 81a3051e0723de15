package server

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
	"stillsaw/server/table"
)

// nameShown finds a name but where random letters, of salts and signatures in base64, hold
// it by chance.
var nameShown = regexp.MustCompile(`(?:^|[^A-Za-z0-9+/])(?:Ada|Rook)(?:[^A-Za-z0-9+/]|$)`)

// The person asked for is named nowhere once names are kept back, in no form of the
// export.
func TestPersonAskedForIsNotNamedWhereNamesAreWithheld(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.signs()
	m.stop("ada", "hoist", "hook bent")
	asked := "?from=&person=" + string(m.people["ada"].ID) + "&without-names=yes"
	shown := map[string]string{}
	for _, ending := range []string{"json", "csv", "pdf", "zip"} {
		page := m.as("rita").get("/export." + ending + asked)
		require.Equal(t, http.StatusOK, page.Status, ending)
		shown[ending] = page.Body
	}
	for name, text := range members(t, []byte(shown["zip"])) {
		shown["zip "+name] = text
		require.NotContains(t, name, "Ada")
	}
	for what, text := range shown {
		if strings.HasSuffix(what, "pdf") {
			path := filepath.Join(t.TempDir(), "a.pdf")
			require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
			out, err := exec.Command("pdftotext", path, "-").Output()
			if err != nil && os.Getenv("CI") == "" {
				continue
			}
			require.NoError(t, err)
			text = string(out)
		}
		require.NotRegexp(t, nameShown, text, what)
	}
	require.Regexp(t, nameShown, `"Ada Rook"`)
	require.Contains(t, m.as("rita").get("/export.json?from=&person="+string(m.people["ada"].ID)).Body, "Ada Rook", "she is, where names are shown")
}

// The phone's clock stands in the table for whatever was entered, not inspections
// alone.
func TestTableHasThePhonesClockOfEveryEntry(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.signs()
	phone := m.clock.Now().Add(-6 * time.Minute)
	form := url.Values{"equipment": {"hoist"}, "what": {"hook bent"}, "submission": {store.NewID()}, "pin": {testSecrets["ada"]}, "phone": {fmt.Sprintf("%d %d", phone.UnixMilli(), -300)}}
	require.Equal(t, http.StatusOK, m.as("ada").post("/stop-it", form).Status)
	found := 0
	require.NoError(t, table.Read(strings.NewReader(m.as("rita").get("/export.csv?from=").Body), func(r table.Row) error {
		if r.Kind == store.KindDefect {
			found++
			require.True(t, phone.Truncate(time.Millisecond).Equal(r.Phone), r.Phone)
			require.NotNil(t, r.Skew)
			require.InDelta(t, -360, *r.Skew, 30)
		}
		return nil
	}))
	require.Equal(t, 1, found)
}

func TestReadMeOfTheZIPNamesOnlyWhatIsInIt(t *testing.T) {
	require.Contains(t, string(readMe([]besideExport{{name: exportPDFName}})), "record.pdf   to be read")
	none := string(readMe([]besideExport{{name: exportCSVName}}))
	require.NotContains(t, none, "to be read and printed")
	require.Contains(t, none, "too much to print")
}
