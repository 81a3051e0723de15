package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

const (
	// hereEvery is how often an open page hears that the server is still there; a
	// page that hears nothing for 30 s says NOT KNOWN.
	hereEvery = 8 * time.Second

	// movesApart is how long a move waits for those that come right after the one
	// before it: under load a page asks for itself some times a second and not at
	// every commit.
	movesApart = 150 * time.Millisecond

	// How many may listen at a time: from the address of one phone, and all together.
	// A page that may not asks every 15 s.
	streamsFrom = 200
	streamsMost = 5000
)

// streams are the open pages that hear of changes. Those of one mill share a room,
// in which the record is looked at once for all.
type streams struct {
	store   *store.Store
	over    context.Context // ends all of them
	refused func(address string)
	from    int // streamsFrom, most: streamsMost
	most    int

	mu        sync.Mutex
	rooms     map[checklists.MillID]*room
	addresses map[string]int
	all       int
	ended     bool           // no more are begun
	lookouts  sync.WaitGroup // of rooms
}

func newStreams(st *store.Store, over context.Context, refused func(address string)) *streams {
	return &streams{store: st, over: over, refused: refused, from: streamsFrom, most: streamsMost, rooms: map[checklists.MillID]*room{}, addresses: map[string]int{}}
}

// open is how many listen.
func (s *streams) open() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.all
}

// join gives a phone a place in the room of its mill until it leaves; nil where there
// is none, or no more are begun.
func (s *streams) join(mill checklists.MillID, address string) *room {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ended || s.over.Err() != nil {
		return nil
	}
	if s.all >= s.most || s.addresses[address] >= s.from {
		s.refused(address)
		return nil
	}
	s.all++
	s.addresses[address]++
	r := s.rooms[mill]
	if r == nil {
		ctx, empty := context.WithCancel(s.over)
		r = &room{mill: mill, empty: empty, next: make(chan struct{})}
		s.rooms[mill] = r
		s.lookouts.Go(func() {
			r.watch(ctx, s.store)
			s.shut(r)
		})
	}
	r.in++
	return r
}

func (s *streams) leave(r *room, address string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.all--
	if s.addresses[address]--; s.addresses[address] == 0 {
		delete(s.addresses, address)
	}
	if r.in--; r.in == 0 {
		r.empty()
		s.forget(r)
	}
}

// shut has a room nobody comes into any more.
func (s *streams) shut(r *room) {
	s.mu.Lock()
	defer s.mu.Unlock()
	r.empty()
	s.forget(r)
}

func (s *streams) forget(r *room) {
	if s.rooms[r.mill] == r {
		delete(s.rooms, r.mill)
	}
}

// end begins no more and waits until the record is looked at no more.
func (s *streams) end() {
	s.mu.Lock()
	s.ended = true
	s.mu.Unlock()
	s.lookouts.Wait()
}

// room is where the pages of one mill hear of its record.
type room struct {
	mill  checklists.MillID
	empty context.CancelFunc
	in    int // held by streams.mu

	mu   sync.Mutex
	last *news         // nil: the record was not looked at yet
	next chan struct{} // closed when there are others
}

// news is what is told: how long the record is, or that nothing more is.
type news struct {
	size int64
	over bool
}

// watch looks at the record at every change and now and then, until ctx ends or it
// can't be read: then the pages find out by hearing nothing more.
func (r *room) watch(ctx context.Context, st *store.Store) {
	defer r.say(news{over: true})
	beat := time.NewTicker(hereEvery)
	defer beat.Stop()
	size, beaten := int64(-1), false
	for {
		changed := st.Changed()
		head, err := st.Of(r.mill).Head(ctx)
		if err != nil && !errors.Is(err, store.ErrNotFound) {
			return
		}
		moved := head.Size != size
		if size = head.Size; moved || beaten {
			r.say(news{size: size})
		}
		if moved {
			select {
			case <-time.After(movesApart):
			case <-ctx.Done():
				return
			}
		}
		beaten = false
		select {
		case <-changed:
		case <-beat.C:
			beaten = true
		case <-ctx.Done():
			return
		}
	}
}

func (r *room) say(n news) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.last = &n
	close(r.next)
	r.next = make(chan struct{})
}

// heard is what was said last, and what is closed when something else is.
func (r *room) heard() (*news, <-chan struct{}) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.last, r.next
}

// tell writes begin and then each news to one page, until there are no more or
// nobody takes them. The page knows of that length already.
func (r *room) tell(page io.Writer, begin []byte, known int64) {
	if _, err := page.Write(begin); err != nil {
		return
	}
	for first := true; ; {
		last, next := r.heard()
		if last != nil {
			event := "event: here\ndata: %d\n\n"
			switch {
			case last.over:
				return
			case last.size != known:
				event = "event: moved\nid: %[1]d\ndata: %[1]d\n\n"
			case first:
				event = "" // begin said so
			}
			first, known = false, last.size
			if event != "" {
				if _, err := fmt.Fprintf(page, event, known); err != nil {
					return
				}
			}
		}
		<-next
	}
}
