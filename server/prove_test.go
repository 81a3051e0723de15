package server

import (
	"fmt"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// hire adds operators who all have ada's PIN.
func (m *testMill) hire(count int) []procedures.PersonID {
	m.t.Helper()
	var hired []procedures.PersonID
	for i := range count {
		p := procedures.Person{ID: procedures.PersonID(store.NewID()), Name: fmt.Sprintf("Hand %d", i), Role: procedures.Operator}
		require.NoError(m.t, m.desk().KeepPerson(m.t.Context(), store.NewID(), p, testDigests()["ada"], m.people["sam"], m.clock.Now()))
		hired = append(hired, p.ID)
	}
	return hired
}

func (p *phone) signIn(who procedures.PersonID, pin string) page {
	p.t.Helper()
	return p.post("/sign-in", url.Values{"person": {string(who)}, "pin": {pin}})
}

// A PIN of four digits has ten thousand values; trying many at once must not be
// quicker than trying one after another.
func TestPINsTriedAtOnceAreNoMoreThanTheFreeTries(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	compared := func(at int) int {
		var all sync.WaitGroup
		bodies := make([]string, at)
		for i := range bodies {
			p := m.phone()
			all.Go(func() { bodies[i] = p.signIn(m.people["ada"].ID, fmt.Sprintf("%04d", 5000+i)).Body })
		}
		all.Wait()
		count := 0
		for _, body := range bodies {
			if strings.Contains(body, "that is not it") {
				count++
				continue
			}
			require.Contains(t, body, "too many wrong tries")
		}
		return count
	}
	require.Equal(t, freeTriesPerson, compared(50))
	m.clock.Advance(firstWait)
	require.Equal(t, 1, compared(10), "after the wait one more")
	m.clock.Advance(firstWait)
	require.Equal(t, 0, compared(5), "the wait doubles")
}

// A phone that is passed around is slowed for everybody after many wrong tries,
// and not for good.
func TestSharedPhoneIsSlowedAndForgets(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.phone()
	hired := m.hire(6)
	last := hired[5]
	for i := range 20 {
		p.signIn(hired[i/4], "0000").says(t, "that is not it", i)
	}
	slowed := p.signIn(last, testSecrets["ada"])
	slowed.says(t, "too many wrong tries from this phone or network; wait 2 s")
	require.NotContains(t, slowed.Body, "have the supervisor", "a new PIN would not help")
	m.clock.Advance(time.Hour)
	for range 4 {
		p.signIn(last, "0000").says(t, "that is not it") // an hour without: it starts anew
	}
	m.clock.Advance(firstWait)
	require.Equal(t, "/", p.signIn(last, testSecrets["ada"]).URL.Path)
}

// The page says: have the supervisor set a new one.
func TestNewPINClearsTheWait(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	lockedOut := func() {
		for range freeTriesPerson {
			m.phone().signIn(m.people["ada"].ID, "0000")
		}
		m.phone().signIn(m.people["ada"].ID, "0000").says(t, "have the supervisor set a new one")
		m.clock.Advance(time.Second)
	}
	lockedOut()
	address := "/people/" + string(m.people["ada"].ID)
	reply := sam.post(address, with(sam.get(address).filled(t, address), "password", "6204", "again", "6204", "pin", testSecrets["sam"]))
	require.Equal(t, "/people", reply.URL.Path, reply.Body)
	require.Equal(t, "/", m.phone().signIn(m.people["ada"].ID, "6204").URL.Path, "by the supervisor")

	lockedOut()
	digest := testDigests()["ada"]
	require.NoError(t, m.desk().ResetPIN(t.Context(), store.NewID(), m.people["ada"].ID, digest, "at-the-pc", "", m.clock.Now()))
	require.Equal(t, "/", m.phone().signIn(m.people["ada"].ID, testSecrets["ada"]).URL.Path, "at the PC")

	for range freeTriesPerson - 1 {
		m.phone().signIn(m.people["ada"].ID, "0000")
	}
	ada := m.as("ada")
	form := ada.get("/people/me").filled(t, "/people/me")
	require.Equal(t, "/sign-in", ada.post("/people/me", with(form, "pin", testSecrets["ada"], "password", "6204", "again", "6204")).URL.Path)
	require.Equal(t, "/", m.phone().signIn(m.people["ada"].ID, "6204").URL.Path, "by the owner")
}

// OWASP, Password Storage Cheat Sheet: argon2id with at least 19 MiB of memory,
// two passes and one lane. The cheap digests of the other tests are not what a
// person's PIN is kept as.
func TestHashIsArgon2idAtItsRecommendedCost(t *testing.T) {
	t.Parallel()
	digest, err := Hash("4071")
	require.NoError(t, err)
	params, _, _, err := argon2id.DecodeHash(digest)
	require.NoError(t, err)
	require.GreaterOrEqual(t, params.Memory, uint32(19*1024))
	require.GreaterOrEqual(t, params.Iterations, uint32(2))
	require.Equal(t, uint8(1), params.Parallelism)
	stood, _, _, err := argon2id.DecodeHash(standIn)
	require.NoError(t, err)
	require.Equal(t, params, stood, "a wrong name takes as long as a wrong PIN")
}
