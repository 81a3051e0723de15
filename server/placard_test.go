package server

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// readBack is a PDF as a library that had no part in writing it reads it.
func readBack(t *testing.T, raw string) (pages int, text string) {
	t.Helper()
	r, err := pdf.NewReader(strings.NewReader(raw), int64(len(raw)))
	require.NoError(t, err)
	for i := range r.NumPage() {
		page, err := r.Page(i + 1).GetPlainText(nil)
		require.NoError(t, err)
		text += page + " "
	}
	return r.NumPage(), strings.Join(strings.Fields(text), "")
}

// pressed is a text without blanks, as lines of a sheet break anywhere.
func pressed(text string) string { return strings.Join(strings.Fields(text), "") }

// A photo of a place, in colour so that it compresses like one.
func aPlace(t *testing.T) []byte {
	t.Helper()
	canvas := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for y := range 480 {
		for x := range 640 {
			canvas.Set(x, y, color.RGBA{uint8(x), uint8(y), uint8(x ^ y), 255})
		}
	}
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, canvas, nil))
	return out.Bytes()
}

// Each starter procedure is on one page with every step, as it comes and with a
// photo of every isolator's place, and has its own sizes to read.
func TestPlacardOfEveryStarterIsOnePageWithEveryStep(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("long, and without a race to find")
	}
	m := newMill(t)
	ada, sam := m.as("ada"), m.as("sam")
	kept, err := Prepare(aPlace(t))
	require.NoError(t, err)
	digest, err := m.desk().KeepPhoto(t.Context(), kept, m.clock.Now())
	require.NoError(t, err)
	published, err := m.desk().InForce(t.Context(), store.Procedures)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(published), 6)
	whole := func(id string) {
		reply := ada.get("/procedures/" + id + "/placard.pdf")
		require.Equal(t, http.StatusOK, reply.Status, id)
		pages, text := readBack(t, reply.Body)
		require.Equal(t, 1, pages, id)
		p := m.procedure(procedures.ProcedureID(id))
		for i, s := range p.Steps {
			require.Contains(t, text, pressed(s.Text), id)
			if s.Proof != procedures.Tick {
				require.Contains(t, text, pressed(s.Proof.Words().String()), id)
			}
			require.Contains(t, text, strconv.Itoa(i+1), id)
		}
		for _, e := range p.Energies {
			require.Contains(t, text, pressed(e.Source), id)
		}
		for _, d := range p.Devices {
			require.Contains(t, text, pressed("("+strconv.Itoa(d.Number)+")"), id)
			require.Contains(t, text, pressed(d.Label), id)
		}
		for _, caution := range procedures.Cautions() {
			require.Contains(t, text, pressed(caution.String()), id)
		}
		require.Contains(t, text, pressed("Enter the lockout in Stillsaw afterwards"), id)
		require.Contains(t, text, pressed("http://mill.test/procedures/"+id), id)
		require.Contains(t, text, pressed("Version "+strconv.Itoa(p.Version)+", put in force by Sam Ordway"), id)
	}
	for _, one := range published {
		whole(one.ID)
		p := m.procedure(procedures.ProcedureID(one.ID))
		p.Version = 0
		for i := range p.Devices {
			p.Devices[i].Photo, p.Devices[i].Point = digest, procedures.Point{X: 0.3, Y: 0.6}
		}
		draft, err := store.DraftOf(store.Procedures, one.ID, p.Title, p)
		require.NoError(t, err)
		require.NoError(t, m.desk().KeepDraft(t.Context(), draft, m.clock.Now()))
		require.Equal(t, http.StatusOK, m.published(sam, one.ID, procedures.Renewal{Said: true, Substance: true, Why: "photos"}).Status)
		whole(one.ID)
	}
	require.Contains(t, ada.get("/procedures/head-saw/placard.pdf").Body, "/Subtype /Image")
}

func TestTagsCarryLegendHazardNumberAndName(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	for _, id := range []string{"head-saw", "head-rig", "hoist"} {
		p := m.procedure(procedures.ProcedureID(id))
		reply := m.as("ada").get("/procedures/" + id + "/tags.pdf?name=mine")
		require.Equal(t, http.StatusOK, reply.Status)
		pages, text := readBack(t, reply.Body)
		require.Equal(t, (len(p.Devices)+5)/6, pages, "six to a page")
		require.Equal(t, len(p.Devices), strings.Count(text, pressed("Put on by: Ada Rook")))
		for _, point := range p.Placard(m.clock.Now()).Points {
			require.Contains(t, text, pressed(point.Legend.Words().String()))
			require.Contains(t, text, pressed(point.Hazard))
			require.Contains(t, text, pressed(point.Device.Label))
		}
		require.Contains(t, text, pressed(procedures.Cautions()[0].String()))
	}
	_, blank := readBack(t, m.as("ada").get("/procedures/hoist/tags.pdf").Body)
	require.NotContains(t, blank, "Ada")
	_, blank = readBack(t, m.as("rita").get("/procedures/hoist/tags.pdf?name=mine").Body)
	require.NotContains(t, blank, "Rita", "a reader hangs no tags")
	require.Equal(t, http.StatusNotFound, m.as("ada").get("/procedures/no-such/tags.pdf").Status)
}

// A mill with more to lock out, on the paper of its country.
func TestPlacardIsOnePageAtEveryKindOfMill(t *testing.T) {
	t.Parallel()
	for name, answers := range map[string]checklists.SetUp{
		"engine":  {Law: "us-federal", Drive: "engine", Feed: "hydraulic", Dogs: "power", Headblocks: 4, EntryPoints: 2, Hoist: "electric", Collector: "bag-house", SawDiameter: 1.3, SpindleSpeed: 600},
		"tractor": {Law: "farm", Drive: "tractor-shaft", Feed: "mandrel", Dogs: "power", Headblocks: 2, EntryPoints: 1, Hoist: "hand-chain", Collector: "none", SawDiameter: 1.2, SpindleSpeed: 540, Portable: true},
	} {
		s, st, now := newServer(t, "")
		m := &testMill{t: t, server: s, store: st, clock: now, mill: testSetUpIn(st), people: map[string]procedures.Person{"sam": {Name: "Sam Ordway", Role: procedures.Supervisor, Authorized: true}}}
		m.mill.SetUp, m.mill.Units = answers, checklists.Metric
		sam := m.people["sam"]
		sam.ID = procedures.PersonID(store.NewID())
		m.people["sam"] = sam
		set, err := Starter(m.mill, sam, testDigests()["sam"], now.Now().Add(-24*time.Hour))
		require.NoError(t, err)
		require.NoError(t, st.SetUp(t.Context(), set))
		phone := m.as("sam")
		for _, d := range set.Drafts {
			if d.Sort != store.Procedures {
				continue
			}
			m.publish(d.Sort, d.ID, set.Plant)
			reply := phone.get("/procedures/" + d.ID + "/placard.pdf")
			require.Equal(t, http.StatusOK, reply.Status, "%s %s", name, d.ID)
			pages, text := readBack(t, reply.Body)
			require.Equal(t, 1, pages, "%s %s", name, d.ID)
			for _, step := range m.procedure(procedures.ProcedureID(d.ID)).Steps {
				require.Contains(t, text, pressed(step.Text), "%s %s", name, d.ID)
			}
		}
	}
}
