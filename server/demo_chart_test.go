package server_test

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"stillsaw/server"
	"stillsaw/server/demo"
	"stillsaw/server/store"
)

// caller is somebody signed in at the invented mill.
type caller struct {
	t      *testing.T
	client *http.Client
	url    string
}

func (c caller) ask(path string, form url.Values) (int, string) {
	c.t.Helper()
	request, err := http.NewRequestWithContext(c.t.Context(), http.MethodGet, c.url+path, nil)
	if form != nil {
		request, err = http.NewRequestWithContext(c.t.Context(), http.MethodPost, c.url+path, strings.NewReader(form.Encode()))
	}
	require.NoError(c.t, err)
	if form != nil {
		request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	reply, err := c.client.Do(request)
	require.NoError(c.t, err)
	body, err := io.ReadAll(reply.Body)
	require.NoError(c.t, err)
	require.NoError(c.t, reply.Body.Close())
	return reply.StatusCode, string(body)
}

// demoCaller is Oren, the sawyer, in the middle of a shift, with the rigs in
// force.
func demoCaller(t *testing.T) (caller, []store.Publication) {
	t.Helper()
	s, st, people := demoServer(t)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	rigs, err := st.Of(mill.ID).InForce(t.Context(), store.Rigs)
	require.NoError(t, err)
	require.NotEmpty(t, rigs)
	return signedIn(t, s, st, people[1]), rigs
}

// signedIn is one of the invented mill's crew at its server.
func signedIn(t *testing.T, s *server.Server, st *store.Store, who demo.SignIn) caller {
	t.Helper()
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	crew, err := st.Of(mill.ID).People(t.Context())
	require.NoError(t, err)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	c := caller{t, &http.Client{Jar: jar}, server.NewServerAt(t, s)}
	for _, p := range crew {
		if p.Name == who.Name {
			status, _ := c.ask("/sign-in", url.Values{"person": {string(p.ID)}, "pin": {who.Secret}})
			require.Equal(t, http.StatusOK, status)
		}
	}
	return c
}

// Both look at one invented mill: to make one takes seconds.
func TestChartsOfTheDemo(t *testing.T) {
	t.Parallel()
	c, rigs := demoCaller(t)
	t.Run("every rig's is one page", func(t *testing.T) { onePageEach(t, c, rigs) })
	t.Run("typed into the page of a lift, it is borne out", func(t *testing.T) { borneOut(t, c, rigs[0]) })
}

func onePageEach(t *testing.T, c caller, rigs []store.Publication) {
	conditions := []string{"green", "part-dry", "air-dry", "soaked"}
	for i, rig := range rigs { // each rig in one of the ways, all of them on one of the rigs
		for j, shape := range []string{"round", "squared"} {
			for k, condition := range conditions {
				if i > 0 && (i+j+k)%len(conditions) != 0 {
					continue
				}
				query := url.Values{"rig": {rig.ID}, "shape": {shape}, "condition": {condition}, "kinds": {"all"}}
				status, body := c.ask("/lifts/chart/pdf?"+query.Encode(), nil)
				require.Equal(t, http.StatusOK, status, query)
				r, err := pdf.NewReader(strings.NewReader(body), int64(len(body)))
				require.NoError(t, err)
				require.Equal(t, 1, r.NumPage(), query)
				media := r.Page(1).V.Key("MediaBox")
				if media.Len() == 0 {
					media = r.Page(1).V.Key("Parent").Key("MediaBox")
				}
				require.InDelta(t, 612, media.Index(2).Float64(), 0.5, "Letter, for a mill that counts in inches")
				text, err := r.Page(1).GetPlainText(nil)
				require.NoError(t, err)
				require.Contains(t, text, "yellow-poplar")
				require.True(t, bytes.HasPrefix([]byte(body), []byte("%PDF-")))
			}
		}
	}
}

var chartRows = regexp.MustCompile(`(?s)<details class="card part" data-kind="([^"]+)">.*?</details>`)
var chartCells = regexp.MustCompile(`<tr><td>([^<]+)</td><td class="n">([^<]+)</td><td class="n">([^<]+)</td></tr>`)

// What the page prints for the phone is typed into the page of a lift as it
// stands there, and the page answers: GO at the limit, NO-GO an inch beyond.
func borneOut(t *testing.T, c caller, rig store.Publication) {
	_, body := c.ask("/lifts/chart?unsigned=yes&kind=northern+red+oak&kind=white+spruce&kind=shagbark+hickory&rig="+rig.ID, nil)
	found, limits := chartRows.FindAllStringSubmatch(body, -1), 0
	require.Len(t, found, 3)
	for _, kind := range found {
		for i, row := range chartCells.FindAllStringSubmatch(kind[0], -1) {
			if i%9 != 0 { // enough of them; all are held against the judge elsewhere
				continue
			}
			thick, shortest, longest := row[1], row[2], row[3]
			for _, length := range []struct {
				typed string
				more  int
				goes  bool
			}{{shortest, 0, true}, {longest, 0, true}, {shortest, -1, false}, {longest, 1, false}} {
				limits++
				inches := inchesOf(t, length.typed) + length.more
				form := url.Values{"submission": {store.NewID()}, "rig": {rig.ID}, "rig-version": {fmt.Sprint(rig.Version)}, "hoist": {"hoist"}, "lands": {"carriage"}, "setting": {"2nd hole"},
					"shape": {"round"}, "small": {thick}, "large": {thick}, "species": {kind[1]}, "condition": {"green"}, "length": {fmt.Sprintf("%d in", inches)}, "span": {fmt.Sprintf("%d in", inches-2)}}
				for _, q := range []string{"landing-clear", "nobody-under", "latch-closed", "free", "trial-lift", "seated"} {
					form.Set(q, "yes")
				}
				status, answer := c.ask("/lifts/new", form)
				require.Equal(t, http.StatusOK, status, answer)
				require.Equal(t, length.goes, strings.Contains(answer, `class="badge go`), "%s, %s thick, %d in long", kind[1], thick, inches)
			}
		}
	}
	require.GreaterOrEqual(t, limits, 12)
}

// inchesOf reads 7 ft 2 in, 7 ft or 31 in.
func inchesOf(t *testing.T, text string) int {
	t.Helper()
	total, n := 0, 0
	for _, word := range strings.Fields(text) {
		switch word {
		case "ft":
			total, n = total+12*n, 0
		case "in":
			total, n = total+n, 0
		default:
			_, err := fmt.Sscan(word, &n)
			require.NoError(t, err, text)
		}
	}
	return total
}
