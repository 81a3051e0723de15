package server

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const onAndroid = "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/126.0.0.0 Mobile Safari/537.36"

// Whoever left a phone somewhere sees that it is still signed in and ends that,
// with the PIN; nobody ends another person's.
func TestOnesOwnSessionsAreListedAndEnded(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	const address = "/people/me/phones"
	left, bo := m.as("ada"), m.as("bo")
	left.asked(http.MethodGet, "/due", nil, "User-Agent", onAndroid)
	m.clock.Advance(90 * time.Minute)
	ada := m.as("ada")
	require.NotContains(t, bo.get(address).Body, "Chrome")
	bo.get(address).says(t, "signed in nowhere else")
	page := ada.get(address)
	require.Regexp(t, `Chrome on Android: signed in today 6:00.am, last here today 6:00.am<`, page.Body)
	sessions, err := m.desk().Sessions(t.Context(), m.people["ada"].ID, m.clock.Now())
	require.NoError(t, err)
	require.Len(t, sessions, 2)
	require.Equal(t, m.clock.Now(), sessions[0].Made, "the newest first")
	lost, pin := sessionID(sessions[1]), testSecrets["ada"]
	there := func(p *phone) bool { return p.get("/due").URL.Path == "/due" }
	m.storesNothing(func() {
		for field, form := range map[string]url.Values{"session": {"pin": {pin}}, "pin": {"session": {lost}}, "pin ": {"session": {lost}, "pin": {"0000"}}} {
			reply := ada.post(address, form)
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, field)
			require.True(t, there(left))
		}
		bo.post(address, url.Values{"session": {lost}, "pin": {testSecrets["bo"]}})
		require.True(t, there(left), "not by somebody else")
		ada.post(address, url.Values{"session": {lost}, "pin": {pin}}).says(t, "You are signed out there.")
	})
	require.False(t, there(left))
	require.True(t, there(ada) && there(bo))
	ada.get(address).says(t, "signed in nowhere else")
}

// Each browser calls itself by the names of others. Examples as the makers
// document them (from memory).
func TestBrowsersAreToldApart(t *testing.T) {
	for said, want := range map[string]agent{
		onAndroid: {"Chrome", "Android"},
		"Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/126.0.0.0 Safari/537.36 Edg/126.0.0.0":                      {"Edge", "Windows"},
		"Mozilla/5.0 (X11; Linux x86_64; rv:127.0) Gecko/20100101 Firefox/127.0":                                                                             {"Firefox", "Linux"},
		"Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/17.5 Mobile/15E148 Safari/604.1":            {"Safari", "iPhone"},
		"Mozilla/5.0 (Linux; Android 14; SAMSUNG SM-S918B) AppleWebKit/537.36 (KHTML, like Gecko) SamsungBrowser/25.0 Chrome/121.0.0.0 Mobile Safari/537.36": {"Samsung Internet", "Android"},
		"<b>zq": {}, "": {},
	} {
		require.Equal(t, want, agentOf(said), said)
	}
	require.True(t, agent{}.said().Empty())
	require.Equal(t, "Safari", agent{name: "Safari"}.said().String())
}

// Nothing is kept of phones whose sessions are over.
func TestPhonesThatWereLongGoneAreForgotten(t *testing.T) {
	var p phones
	at := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	for i := range byte(100) {
		p.met([32]byte{i}, agent{}, at)
	}
	p.met([32]byte{100}, agent{}, at.Add(sessionLasts+time.Second))
	require.Len(t, p.last, 1)
	require.True(t, p.of([32]byte{1}).at.IsZero())
}
