package bench

import (
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

const apiPath = "/api/v1/inspections"

// watching registers the drivers that look on: one that may leave writes out, so
// that of two mills only one does.
var watching = sync.OnceValue(func() *watched { return watch("watched") })

// signOffs are the ways of signing off side by side, each on files of its own.
type signOffs struct {
	ours, dry, plain, bare func(phone int) error
	again                  *atomic.Int64 // how often the plain way said "database is locked" and was asked again
	rows, bytes            int           // of one sign-off of ours
	b                      *bare
}

// newSignOffs serves a mill of ours, another with the write left out, the plain way
// and bare SQLite.
func newSignOffs(t testing.TB, phones int, cost *argon2id.Params) signOffs {
	t.Helper()
	body := signOff()
	send := func(address string, m *mill) func(int) error {
		c := caller(address)
		return func(i int) error { return post(c, apiPath, "application/json", m.tokens[i], body, 200) }
	}
	m := serve(t, newMill(t, phones, cost), store.On{}, phones)
	dry, b := leftOut(t, phones, cost, send)
	s := signOffs{ours: send(m.address, m), dry: dry, b: b, again: new(atomic.Int64)}
	s.rows, s.bytes = b.bytes()
	plain := caller(plainWay(t, phones, cost))
	s.plain = func(i int) error {
		for tries := 0; ; tries++ {
			err := post(plain, "/inspections", "application/json", plainSecret(i), body, 200)
			if err == nil || !strings.Contains(err.Error(), "locked") || tries == 100 {
				return err
			}
			s.again.Add(1)
		}
	}
	var turn sync.Mutex
	s.bare = func(int) error {
		turn.Lock()
		defer turn.Unlock()
		return b.signOff(t.Context(), 1)
	}
	for i := range phones { // so that each token was used a moment ago
		require.NoError(t, s.ours(i))
	}
	return s
}

// leftOut is a mill that does all a sign-off takes but the write, and bare SQLite
// with the rows it would write.
func leftOut(t testing.TB, phones int, cost *argon2id.Params, send func(string, *mill) func(int) error) (func(int) error, *bare) {
	t.Helper()
	w := watching()
	w.leaveOut(nil)
	dir := newMill(t, phones, cost)
	m := serve(t, dir, store.On{Driver: "watched", VFS: "unix"}, phones)
	dry := send(m.address, m)
	for i := range phones {
		require.NoError(t, dry(i))
	}
	one := w.keep(func() { require.NoError(t, dry(0)) })
	// With so many entries the log's right edge is one hash: with the write left out
	// it is read anew each time.
	desk := m.store.Of(m.id)
	for {
		head, err := desk.Head(t.Context())
		require.NoError(t, err)
		if head.Size&(head.Size-1) == 0 {
			break
		}
		p := procedures.Person{ID: person(0), Name: "Hand 0", Role: procedures.Operator, Authorized: true}
		require.NoError(t, desk.KeepPerson(t.Context(), store.NewID(), p, "", sam, time.Now()))
	}
	b := newBare(t, dir, one)
	w.leaveOut(writes)
	t.Cleanup(func() { w.leaveOut(nil) })
	return dry, b
}

// forms is a check as a phone's pages send it: begun, answered, signed.
func forms(t testing.TB, m *mill, phones int) func(phone int) error {
	t.Helper()
	c := caller(m.address)
	cookies := make([]string, phones)
	for i := range phones {
		cookies[i] = signIn(t, c, i)
	}
	answers := "state=stopped&next=sign"
	for _, item := range thirty().Items {
		if item.Limits.Unit != "" {
			answers += fmt.Sprintf("&%s.number=12.5", item.ID)
		} else {
			answers += fmt.Sprintf("&%s=ok", item.ID)
		}
	}
	return func(i int) error {
		walk := store.NewID()
		if err := postForm(c, "/inspections/new", cookies[i], "list="+string(listID)+"&walk="+walk+"&submission="+store.NewID()); err != nil {
			return err
		}
		if err := postForm(c, "/inspections/"+walk+"/answers", cookies[i], answers); err != nil {
			return err
		}
		return postForm(c, "/inspections/"+walk+"/sign", cookies[i], "pin="+pin+"&submission="+store.NewID())
	}
}

// BenchmarkSignOff is whole checks signed off one after the other by 64 phones at once
// and by one, each durable before its phone goes on.
func BenchmarkSignOff(b *testing.B) {
	for _, phones := range []int{64, 1} {
		b.Run(fmt.Sprintf("phones=%d", phones), func(b *testing.B) {
			m := serve(b, newMill(b, phones, cheap), store.On{}, phones)
			c, body := caller(m.address), signOff()
			var left atomic.Int64
			left.Store(int64(b.N))
			b.ResetTimer()
			var group sync.WaitGroup
			for i := range phones {
				group.Go(func() {
					for left.Add(-1) >= 0 {
						if err := post(c, apiPath, "application/json", m.tokens[i], body, 200); err != nil {
							b.Error(err)
							return
						}
					}
				})
			}
			group.Wait()
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "sign-offs/s")
		})
	}
}
