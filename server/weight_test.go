package server

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/andybalholm/brotli"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// firstVisitMost is what a first visit may weigh on the wire: page, style and the
// scripts a page waits for, as they are sent.
const firstVisitMost = 10 << 10

// weighed is one file of a page as it came over the wire.
type weighed struct {
	what  string
	bytes int
	plain int
	later bool // no phone waits for it
}

var (
	pageStyle  = regexp.MustCompile(`<link rel="stylesheet" href="([^"]+)"( media="(?:print|\(min-width: 40rem\))")?>`)
	pageScript = regexp.MustCompile(`<script src="([^"]+)" data-then="([^"]*)" defer></script>`)
)

// weigh loads an address and what its page names, in one encoding.
func (p *phone) weigh(path, encoding string) []weighed {
	p.t.Helper()
	fetch := func(path string) (sent int, body []byte) {
		request, err := http.NewRequestWithContext(p.t.Context(), http.MethodGet, "http://mill.test"+path, nil)
		require.NoError(p.t, err)
		for _, cookie := range p.jar.Cookies(request.URL) {
			request.AddCookie(cookie)
		}
		request.Header.Set("Accept-Encoding", encoding)
		reply, err := p.server.app.Test(request, 60_000)
		require.NoError(p.t, err)
		require.Equal(p.t, http.StatusOK, reply.StatusCode, path)
		if strings.HasPrefix(path, "/assets/") {
			require.Equal(p.t, "public, max-age=31536000, immutable", reply.Header.Get("Cache-Control"), "a second visit does not even ask for %s", path)
		}
		wire, err := io.ReadAll(reply.Body)
		require.NoError(p.t, err)
		require.NoError(p.t, reply.Body.Close())
		return len(wire), unpacked(p.t, reply.Header.Get("Content-Encoding"), wire)
	}
	// Ids drawn anew with each showing pack a little better or worse: the middle of nine.
	var sents []int
	var body []byte
	for range 9 {
		var sent int
		sent, body = fetch(path)
		sents = append(sents, sent)
	}
	slices.Sort(sents)
	all := []weighed{{what: "page", bytes: sents[4], plain: len(body)}}
	add := func(address string, later bool) {
		sent, body := fetch(address)
		name, _, _ := strings.Cut(strings.TrimPrefix(address, "/assets/"), ".")
		all = append(all, weighed{name + address[strings.LastIndex(address, "."):], sent, len(body), later})
	}
	for _, match := range pageStyle.FindAllStringSubmatch(string(body), -1) {
		add(match[1], match[2] != "")
	}
	for _, match := range pageScript.FindAllStringSubmatch(string(body), -1) {
		add(match[1], false)
		for then := range strings.FieldsSeq(match[2]) {
			add(then, true)
		}
	}
	return all
}

// fifty is a check under way of fifty items of the starters, each with how it is
// checked: the first fifty in their own order, done in the states they are done
// in, or all on one page.
func (m *testMill) fifty(p *phone, onePage bool) string {
	m.t.Helper()
	list := checklists.List{ID: "fifty", Title: "Pre-shift check", Schedule: m.inForce("pre-shift").Schedule}
	if onePage {
		list.ID = "fifty-at-once"
	}
	for _, starter := range checklists.StarterLists(m.mill.SetUp, m.plant()) {
		for _, item := range starter.Items {
			if len(list.Items) == 50 || item.How == "" || item.When.Item != "" || slices.ContainsFunc(list.Items, func(i checklists.Item) bool { return i.ID == item.ID }) {
				continue
			}
			if onePage {
				item.State = checklists.Stopped
			}
			list.Items = append(list.Items, item)
		}
	}
	require.Len(m.t, list.Items, 50)
	doc, err := json.Marshal(list)
	require.NoError(m.t, err)
	yesterday := m.clock.Now().Add(-24 * time.Hour)
	require.NoError(m.t, m.desk().PublishDraft(m.t.Context(), store.NewID(), store.Draft{Sort: store.Lists, ID: string(list.ID), Title: list.Title, Doc: string(doc)}, m.people["sam"], yesterday, nil))
	first := p.get("/inspections/new?list=" + string(list.ID))
	begun := p.post("/inspections/new", url.Values{"submission": {first.submission()}, "list": {string(list.ID)}})
	require.Equal(m.t, http.StatusOK, begun.Status, begun.Body)
	return begun.URL.Path
}

func unpacked(t *testing.T, encoding string, wire []byte) []byte {
	t.Helper()
	reader := io.Reader(bytes.NewReader(wire))
	switch encoding {
	case "br":
		reader = brotli.NewReader(reader)
	case "gzip":
		var err error
		reader, err = gzip.NewReader(reader)
		require.NoError(t, err)
	}
	body, err := io.ReadAll(reader)
	require.NoError(t, err)
	return body
}

// A prototype of 45 items with style and script came to 4 to 6 KB; the limit is
// the project's own.
func TestFirstVisitWeighsAtMostTenKilobytes(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	lockout := "/lockouts/" + string(m.beginLockout(ada, "head-saw").id)
	for _, visit := range []struct {
		what, path string
		gzip       int // what a plain address sends; a browser takes brotli over HTTPS only
	}{
		{"inspection of 50 items", m.fifty(ada, false), 9216},
		{"front page", "/", 6912},
		{"lockout", lockout, 10880},
		{"lift", "/lifts/new", 11392},
		{"inspection of 50 items on one page", m.fifty(ada, true), 12672}, // as no list is walked: its texts alone are 4 KB
	} {
		for _, encoding := range []string{"br", "gzip"} {
			var sum int
			var parts []string
			for _, file := range ada.weigh(visit.path, "gzip, deflate, "+encoding) {
				part := fmt.Sprintf("%s %d (of %d)", file.what, file.bytes, file.plain)
				if file.later {
					part += " later"
				} else {
					sum += file.bytes
				}
				parts = append(parts, part)
			}
			t.Logf("%s, %s: %d bytes: %s", visit.what, encoding, sum, strings.Join(parts, ", "))
			most := map[string]int{"br": firstVisitMost, "gzip": visit.gzip}[encoding]
			assert.LessOrEqual(t, sum, most, "%s, %s: %s", visit.what, encoding, strings.Join(parts, ", "))
		}
	}
}
