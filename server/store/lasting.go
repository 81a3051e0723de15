package store

import (
	"sync"
	"sync/atomic"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
)

// lasting keeps rows that are never changed once they are there, decoded: each
// lift is judged by every weighing and every inspection of gear of years, and
// reading those anew each time would make a lift slower from month to month. A
// nil lasting keeps nothing.
type lasting struct {
	mu           sync.Mutex
	forgotten    int // how often; rows read before are not kept after
	weighed      map[string]lastingRows[Weighed]
	inspections  map[string]lastingRows[GearInspection]
	measurements map[string]lastingRows[GearMeasurement]

	decoded   decoded
	facts     keptFacts
	registers map[checklists.MillID]*registers // of the record as it was when they were loaded
	checked   int64                            // see [CheckKeptFacts]; 0 for never
	asked     atomic.Int64                     // how often facts that were kept were asked for
}

// forgets is how often what was kept was let go of.
func (s *lasting) forgets() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.forgotten
}

func newLasting() *lasting {
	s := &lasting{checked: checkKept.Load()}
	s.forget()
	return s
}

// forget is for when rows were changed after all: a drop takes their words.
func (s *lasting) forget() {
	s.decoded.forget()
	s.facts.forget()
	s.mu.Lock()
	defer s.mu.Unlock()
	s.forgotten++
	s.weighed, s.inspections, s.measurements = map[string]lastingRows[Weighed]{}, map[string]lastingRows[GearInspection]{}, map[string]lastingRows[GearMeasurement]{}
	s.registers = map[checklists.MillID]*registers{}
}

// lastingRows are the rows of a table as it was when it had so many, the last
// of them of that id. A row that a command took back gave its id to no other.
type lastingRows[T any] struct {
	count int64
	last  string
	rows  []T
}

// lastingIn gives the rows of table from what is kept, if none was added since,
// else from read. Whoever gets them doesn't change them.
func lastingIn[T any](r reader, mill, table string, kept func(*lasting) map[string]lastingRows[T], read func() ([]T, error)) ([]T, error) {
	s := r.lasting()
	if s == nil {
		return read()
	}
	var now struct {
		Count int64
		Last  string
	}
	err := r.gorm().Table(table).Select("count(*) AS count, coalesce(max(id), '') AS last").Where("mill = ?", mill).Scan(&now).Error
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	known, ok := kept(s)[mill]
	forgotten := s.forgotten
	s.mu.Unlock()
	if ok && known.count == now.Count && known.last == now.Last {
		return known.rows, nil
	}
	rows, err := read()
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	rows = rows[:len(rows):len(rows)] // whoever appends gets a copy
	if s.forgotten == forgotten {
		kept(s)[mill] = lastingRows[T]{count: now.Count, last: now.Last, rows: rows}
	}
	return rows, nil
}

// docsOf reads every row of a mill from a table, the oldest first.
func docsOf[R, D any](db *gorm.DB, mill string, doc func(R) D) ([]D, error) {
	var rows []R
	err := db.Order("at, id").Find(&rows, "mill = ?", mill).Error
	docs := make([]D, len(rows))
	for i := range rows {
		docs[i] = doc(rows[i])
	}
	return docs, err
}

// reckoned is what the rules made of a weighing, worked out once.
type reckoned struct {
	once  sync.Once
	taken lift.Weighing
	fits  bool
	err   error
}

// Reckoned is what work makes of the weighing and its lift, which never change:
// for those kept in memory it is worked out once. fits is false where the two
// can't be compared.
func (w Weighed) Reckoned(work func(Weighed) (taken lift.Weighing, fits bool, err error)) (lift.Weighing, bool, error) {
	if w.reckoned == nil {
		return work(w)
	}
	w.reckoned.once.Do(func() { w.reckoned.taken, w.reckoned.fits, w.reckoned.err = work(w) })
	return w.reckoned.taken, w.reckoned.fits, w.reckoned.err
}
