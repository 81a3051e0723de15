package server

import (
	"bytes"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
	"stillsaw/views/sheet"
)

func TestEmergencyAndReminderPagesRenderEmptyAndFull(t *testing.T) {
	assets, err := views.NewAssets()
	require.NoError(t, err)
	engine, err := views.NewEngine(assets)
	require.NoError(t, err)
	frame := func() *views.Frame { return &views.Frame{Title: plain.Say("a title")} }
	when := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	card := checklists.EmergencyCard{Numbers: []checklists.Call{{Who: "Ambulance", Number: "911"}}, Contacts: []checklists.Call{{Who: "<Sam>", Number: "+1 802 555 0134"}}, At: when}
	full := &emergencyPage{Frame: frame(), Card: card, Facts: []fact{{"Where", "<here>"}}, Lacks: []string{"the kit"}, Edit: true, Old: true}
	line := []reminderLine{{Said: plain.Say("a"), Word: plain.Say("b"), Href: "/x", Over: true}, {Said: plain.Say("c"), Word: plain.Say("d")}}
	for _, tc := range []struct {
		name string
		page any
		says string
	}{
		{"emergency", &emergencyPage{Frame: frame()}, "Somebody caught in a machine"},
		{"emergency", full, "more than a year ago"},
		{"emergency-file", &emergencyPage{Frame: &views.Frame{Alone: true}}, "A copy to keep."},
		{"emergency-file", full, "&lt;Sam&gt;: &#43;1 802 555 0134"},
		{"emergency-edit", emergencyEditPage{Frame: frame()}, "Sign the card"},
		{"emergency-edit", emergencyEditPage{Frame: frame(), Fields: []views.Field{frame().AreaField("numbers", "n", "<x>")}}, "&lt;x&gt;"},
		{"reminders", remindersPage{Frame: frame()}, "Nothing is overdue, due or about to lapse"},
		{"reminders", remindersPage{Frame: frame(), Own: line, Others: line, Later: line, Works: true, Mail: true, Hour: "06:00", Asked: true, Address: "a@b"}, "No more mail to me"},
		{"reminders", remindersPage{Frame: frame(), Works: true}, "No mail goes out from here yet"},
		{"mail", mailPage{Frame: frame()}, "Nobody has asked for mail yet."},
		{"mail", mailPage{Frame: frame(), Set: true, Waiting: true, Recipients: []recipientLine{{ID: "a", Name: "Ada", Address: "a@b", Since: when}}, Outbox: []outboxLine{{Who: "Ada", Subject: "s", State: plain.Say("e"), Wrong: "550 <no>", Failed: true}, {State: plain.Say("f")}}}, "550 &lt;no&gt;"},
		{"calendar", calendarsPage{Frame: frame()}, "Make an address"},
		{"calendar", calendarsPage{Frame: frame(), Address: "http://x/c.ics", For: "Ada", Lines: []calendarLine{{ID: "a", Person: "Ada", By: "Sam", Made: when}}, People: []views.Choice{{Value: "a", Text: "Ada"}}}, "made by Sam"},
	} {
		var out bytes.Buffer
		require.NoError(t, engine.Render(&out, tc.name, tc.page), tc.name)
		require.Contains(t, out.String(), tc.says, tc.name)
	}
}

func TestMillsEmergencyCardIsReadByAnybodyKeptAndPrinted(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	passer, sam := m.phone(), m.as("sam")
	general := passer.get("/help/emergency")
	general.says(t, "This mill has no card of its own yet")
	general.says(t, "the nearest hospital")
	sam.get("/reminders").says(t, "no emergency card of its own")
	const edit = "/help/emergency/edit"
	form := with(sam.get(edit).filled(t, edit), "numbers", "Ambulance, fire: 911\nPoison centre: 1-800-222-1222", "address", "412 Sprague <Brook> Road", "find_it", "44.1002 N, 72.8541 W",
		"first_aiders", "Ada Rook\n\nBo Lind", "contacts", "Sam Ordway: +1 802 555 0134", "muster", "flagpole", "pin", testSecrets["sam"])
	m.storesNothing(func() {
		for field, value := range map[string]string{"numbers": "911", "address": "", "contacts": "Sam", "pin": "wrong"} {
			reply := sam.post(edit, with(form, field, value))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, field)
			reply.says(t, `href="#f-`+field+`"`)
			require.Equal(t, "44.1002 N, 72.8541 W", reply.filled(t, edit).Get("find_it"))
		}
	})
	require.Equal(t, "/help/emergency", sam.post(edit, form).URL.Path)
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, sam.post(edit, with(form, "muster", "gate")).Status, "an old page does not undo the new card")
	})
	page := passer.get("/help/emergency")
	require.Contains(t, page.title(), "call 911")
	for _, said := range []string{`href="tel:911"`, "412 Sprague &lt;Brook&gt; Road", "Ada Rook, Bo Lind", "Signed by Sam Ordway", "who meets the ambulance", "Somebody caught in a machine"} {
		page.says(t, said)
	}
	require.NotContains(t, sam.get("/reminders").Body, "no emergency card of its own")
	sam.get(edit).says(t, "Poison centre: 1-800-222-1222")

	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://mill.test/help/emergency/card", nil)
	require.NoError(t, err)
	ask := func() *http.Response {
		reply, err := m.server.app.Test(request, 60_000)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		return reply
	}
	first := ask()
	require.Equal(t, cardKept, first.Header.Get("Cache-Control"))
	request.Header.Set("If-None-Match", first.Header.Get("ETag"))
	m.clock.Advance(time.Hour)
	require.Equal(t, http.StatusNotModified, ask().StatusCode)
	for _, at := range []string{"/help/emergency/card", "/help/emergency/file"} {
		alone := passer.get(at)
		require.Less(t, len(alone.Body), 64<<10, "small")
		for _, asks := range regexp.MustCompile(`(?:src|href|action)="([^"]*)"`).FindAllStringSubmatch(alone.Body, -1) {
			require.True(t, strings.HasPrefix(asks[1], "tel:"), "%s asks for %s", at, asks[1])
		}
		require.NotContains(t, alone.Body, "url(")
		require.NotContains(t, alone.Body, "today")
		alone.says(t, "Poison centre: 1-800-222-1222")
	}
	printed := passer.get("/help/emergency/pdf")
	pages, text := readBack(t, printed.Body)
	require.Equal(t, 1, pages)
	for _, said := range []string{"Ambulance, fire: 911", "412 Sprague <Brook> Road", "Sam Ordway: +1 802 555 0134", "Do not stop pressing"} {
		require.Contains(t, text, pressed(said))
	}
}

// The fullest card that may be signed still prints on one sheet.
func TestFullestEmergencyCardIsOneSheet(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("word ", 38)
	var calls []checklists.Call
	var names []string
	for range 12 {
		calls = append(calls, checklists.Call{Who: long[:150], Number: "+1 802 555 0134"})
		names = append(names, long)
	}
	card := checklists.EmergencyCard{Address: long, FindIt: long, Numbers: calls, Hospital: long, FirstAiders: names, Kit: long, Extinguishers: long, Isolators: long, Fuel: long, Muster: long, Meets: long, Contacts: calls}
	card, err := card.Sign(procedures.Person{ID: "sam", Role: procedures.Supervisor}, time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	for _, paper := range []sheet.Paper{sheet.Letter, sheet.A4} {
		page := &emergencyPage{Frame: &views.Frame{Mill: "Fernhollow"}, Card: card}
		page.Facts = page.told()
		var out bytes.Buffer
		require.NoError(t, page.sheet(paper).Write(&out))
		pages, text := readBack(t, out.String())
		require.Equal(t, 1, pages)
		require.Contains(t, text, pressed("Do not throw burning dust"))
	}
}
