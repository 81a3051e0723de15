package store

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/search"
)

// foundBy are the places of what a query finds, newest first.
func foundBy(t *testing.T, m *Mill, query string, f Filter) []int64 {
	t.Helper()
	if f.Limit == 0 {
		f.Limit = 1000
	}
	found, err := m.Search(t.Context(), Looking{Filter: f, Query: search.Parse(query, nil), Kinds: map[string]string{KindDefect: "Stopped"}})
	require.NoError(t, err)
	seqs := []int64{}
	for _, e := range found.Entries {
		seqs = append(seqs, e.Seq)
	}
	return seqs
}

func TestEntriesAreFoundByWhoWhatWhereAndWhen(t *testing.T) {
	m := newMill(t)
	stop := func(what string, equipment procedures.EquipmentID, by procedures.Person, at time.Time) int64 {
		_, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: equipment, What: what}, by, at)
		require.NoError(t, err)
		head, err := m.Head(t.Context())
		require.NoError(t, err)
		return head.Size - 1
	}
	first := stop("Écrou of the near knee worn, tag S-1204", "dogs-and-knees", ada, six)
	second := stop("worn chain, near the hook", "hoist", ben, six.AddDate(0, 0, 1))
	third := stop("the chain worn", "hoist", ada, six.AddDate(0, 2, 0))

	for query, want := range map[string][]int64{
		"worn":                     {third, second, first},
		"WORN near":                {second, first},
		`"chain worn"`:             {third},
		"ecrou":                    {first},
		"s-1204 ":                  {first},
		"S1204":                    {first},
		"1204":                     {first},
		"worn chai":                {third, second},
		"rook worn":                {third, first},
		`"Ada Rook" worn`:          {third, first},
		"stopped 2026-03-03":       {first},
		"worn Mar 2026":            {second, first},
		"worn 2026-03-04..2026-05": {third, second},
		"worn 2026":                {third, second, first},
		"worn 2025":                {},
		"worn 3 Mar 2026 stopped":  {first},
		"unheard-of":               {},
		`"worn the" chain`:         {},
		"hook unheard":             {},
	} {
		require.Equal(t, want, foundBy(t, m, query, Filter{}), query)
	}
	require.Equal(t, []int64{second}, foundBy(t, m, "worn", Filter{Person: ben.ID}))
	require.Equal(t, []int64{third, second}, foundBy(t, m, "worn", Filter{Equipment: "hoist"}))
	require.Equal(t, []int64{second}, foundBy(t, m, "worn", Filter{Day: "2026-03-04", Kind: KindDefect}))
	require.Equal(t, []int64{second}, foundBy(t, m, "worn", Filter{Before: third, Limit: 1}))
	require.Equal(t, []int64{third, second}, foundBy(t, m, "worn", Filter{Newer: true, After: first, Limit: 2}))

	renamed := ben
	renamed.Name = "Ben Marlowe"
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), renamed, "", sam, six.AddDate(0, 3, 0)))
	require.Equal(t, []int64{second}, foundBy(t, m, "lind worn", Filter{}), "by the name of then")
	require.Equal(t, []int64{second}, foundBy(t, m, "marlowe worn", Filter{}), "and by the name of now")
	plant, err := m.Plant(t.Context())
	require.NoError(t, err)
	at := slices.IndexFunc(plant, func(e procedures.Equipment) bool { return e.ID == "hoist" })
	plant[at].Name = "Gantry"
	require.NoError(t, m.ChangePlant(t.Context(), NewID(), plant, sam, six.AddDate(0, 4, 0)))
	require.Equal(t, []int64{third, second}, foundBy(t, m, "gantry worn", Filter{}))
	require.Equal(t, []int64{third, second}, foundBy(t, m, "hoist worn", Filter{}))
}

// drawn appends n entries of what a mill writes down, many blocks in little time.
func drawn(t *testing.T, m *Mill, n int, chance *rand.Rand) {
	t.Helper()
	parts := strings.Fields("tooth dog knee carriage belt bearing guard chain hook latch sling duct fan blade collar arbor rope drum brake pawl rail wheel bolt nut shim wedge lamp switch cable oil")
	ails := strings.Fields("worn cracked loose bent missing rusted chipped slack noisy hot stiff leaking frayed dull blocked torn")
	where := strings.Fields("near far upper lower left right front back inner outer")
	people := []procedures.Person{ada, ben, sam}
	machines := []procedures.EquipmentID{"carriage", "dogs-and-knees", "head-saw", "hoist", "dust-collection"}
	at := six
	for left := n; left > 0; left -= 2000 {
		require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error {
			for range min(left, 2000) {
				at = at.Add(time.Duration(chance.IntN(600)) * time.Second)
				who := people[chance.IntN(len(people))]
				d := checklists.Defect{ID: checklists.DefectID(NewID()), Equipment: machines[chance.IntN(len(machines))], By: who.ID, At: at,
					What: fmt.Sprintf("%s %s of the %s %s, tag T-%d", where[chance.IntN(len(where))], parts[chance.IntN(len(parts))], parts[chance.IntN(len(parts))], ails[chance.IntN(len(ails))], chance.IntN(n/20+1))}
				if _, err := tx.append(m.id, act{Actor: who.ID, At: at, Subject: string(d.ID)}, &defectBody{newDefectPart(d)}); err != nil {
					return err
				}
			}
			return nil
		}))
	}
}

func TestSearchFindsWhatLookingAtEachEntryFinds(t *testing.T) {
	m := newMill(t)
	drawn(t, m, 2500, rand.New(rand.NewPCG(7, 7)))
	all, _, err := m.Entries(t.Context(), Filter{Limit: 5000})
	require.NoError(t, err)
	require.Greater(t, len(all), 2*searchBlock)
	for _, words := range [][]string{{"chain"}, {"chain", "worn"}, {"near", "tooth", "cracked"}, {"t7"}, {"dust"}, {"bea"}} {
		var want []int64
		for _, e := range all {
			text := strings.ToLower(strings.ReplaceAll(strings.Join(textsOf(e.Body), " "), "-", ""))
			d, stopped := e.Body.(checklists.Defect)
			if stopped && !slices.ContainsFunc(words, func(w string) bool {
				return !strings.Contains(text+" "+strings.ReplaceAll(string(d.Equipment), "-", " "), w)
			}) {
				want = append(want, e.Seq)
			}
		}
		query := strings.Join(words, " ")
		got := foundBy(t, m, query, Filter{Kind: KindDefect, Limit: 5000})
		require.Equal(t, want, got, query)

		var paged []int64
		for before := int64(0); ; {
			page := foundBy(t, m, query, Filter{Kind: KindDefect, Before: before, Limit: 7})
			if paged = append(paged, page...); len(page) < 7 || before == page[6] {
				break
			}
			before = page[6]
		}
		require.Equal(t, want, paged, "page by page: %s", query)
	}
}

func TestPagesThatStopLookingEarlyGoOnUntilAllIsFound(t *testing.T) {
	m := newMill(t)
	drawn(t, m, 4500, rand.New(rand.NewPCG(9, 9)))
	early := 0
	for _, query := range []string{"near the chain worn", `"of the" rope`, "hook t4"} {
		for _, newer := range []bool{false, true} {
			all := func(most, limit int) (seqs []int64, stopped int) {
				f := Filter{Limit: limit, Newer: newer}
				for range 4500 {
					var found Finding
					require.NoError(t, m.gorm().Transaction(func(db *gorm.DB) (err error) {
						found, err = (&Tx{db: db}).search(m, Looking{Filter: f, Query: search.Parse(query, nil)}, most)
						return err
					}))
					if newer {
						slices.Reverse(found.Entries)
					}
					for _, e := range found.Entries {
						seqs = append(seqs, e.Seq)
					}
					var next int64
					switch {
					case found.Further != 0:
						next = found.Further
						stopped++
					case found.More:
						next = seqs[len(seqs)-1]
					default:
						return seqs, stopped
					}
					if newer {
						f.After = next
					} else {
						f.Before = next
					}
				}
				t.Fatalf("%s never comes to an end", query)
				return nil, 0
			}
			want, _ := all(1<<30, 1000)
			require.NotEmpty(t, want)
			got, stopped := all(1, 5)
			require.Equal(t, want, got, query)
			early += stopped
		}
	}
	require.Positive(t, early)
}

// TestSearchAtAMillionEntries is by hand: STILLSAW_LONG=1 makes them, which takes
// minutes, STILLSAW_DATA=DIR looks into a data folder there is.
func TestSearchAtAMillionEntries(t *testing.T) {
	chance := rand.New(rand.NewPCG(1, 2))
	if dir := os.Getenv("STILLSAW_DATA"); dir != "" {
		s, err := Open(t.Context(), dir)
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, s.Close()) })
		mill, err := s.TheMill(t.Context())
		require.NoError(t, err)
		searchTimes(t, s.Of(mill.ID), chance)
		return
	}
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("by hand")
	}
	m := newMill(t)
	began := time.Now()
	drawn(t, m, 1_000_000, chance)
	t.Logf("made in %s", time.Since(began))
	searchTimes(t, m, chance)
}

// searchTimes draws a thousand queries of the words of a mill and tells how long they take.
func searchTimes(t *testing.T, m *Mill, chance *rand.Rand) {
	t.Helper()
	var words []string
	require.NoError(t, m.s.reads.Raw("SELECT word FROM search_words WHERE mill = ? AND word NOT LIKE '=%'", m.id).Scan(&words).Error)
	var size struct{ Words, Places, Bytes int64 }
	require.NoError(t, m.s.reads.Raw(`SELECT (SELECT count(*) FROM search_words) AS words, count(*) AS places,
		sum(length(places) + 2 * (length(mill) + length(word) + 8)) + (SELECT sum(length(blocks) + 2 * (length(mill) + length(word) + 8)) FROM search_words) AS bytes FROM search_places`).Scan(&size).Error)
	head, err := m.Head(t.Context())
	require.NoError(t, err)
	t.Logf("%d entries, %d words, %d rows of places, about %d MB", head.Size, size.Words, size.Places, size.Bytes>>20)
	one := func() string { return words[chance.IntN(len(words))] }
	common := strings.Fields("worn chain near of the tag hook bent blade carriage hoist ada ben stopped")
	draw := func() string {
		often := func() string { return common[chance.IntN(len(common))] }
		switch chance.IntN(7) {
		case 0:
			return one()
		case 1:
			return often() + " " + one()
		case 2:
			return often() + " " + often() + " " + often()
		case 3:
			w := one()
			return often() + " " + w[:min(len(w), 2+chance.IntN(2))]
		case 4:
			return `"` + often() + " " + often() + `" ` + often()
		case 5:
			return fmt.Sprintf("%s %d-%02d", often(), 2026+chance.IntN(10), 1+chance.IntN(12))
		}
		return "T-" + fmt.Sprint(chance.IntN(50_000)) + " " + often()
	}
	type took struct {
		d time.Duration
		q string
	}
	var times []took
	further := 0
	for range 1000 {
		q := draw()
		began := time.Now()
		found, err := m.Search(t.Context(), Looking{Filter: Filter{Limit: 50}, Query: search.Parse(q, nil), Kinds: map[string]string{KindDefect: "Stopped"}})
		require.NoError(t, err)
		times = append(times, took{time.Since(began), q})
		if found.Further != 0 {
			further++
		}
	}
	slices.SortFunc(times, func(a, b took) int { return int(a.d - b.d) })
	t.Logf("p50 %s, p99 %s, worst %s (%s), then %v", times[500].d, times[990].d, times[999].d, times[999].q, times[980:])
	t.Logf("%d of the pages stopped before they were full or had looked at all, to be gone on from", further)
	require.Less(t, times[990].d, 50*time.Millisecond)
}

func TestNoteInBracketsIsFoundByItsWords(t *testing.T) {
	m := newMill(t)
	var seqs []int64
	notes := []string{"[east side] belt zquealing", "{tag 4} zquealer", "[3]", `{"zqueal":1} was on the screen`}
	for _, what := range notes {
		_, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "hoist", What: what}, ben, six)
		require.NoError(t, err)
		head, err := m.Head(t.Context())
		require.NoError(t, err)
		seqs = append(seqs, head.Size-1)
	}
	require.Equal(t, seqs[:1], foundBy(t, m, "zquealing", Filter{}))
	require.Equal(t, seqs[:1], foundBy(t, m, `"east side"`, Filter{}))
	require.Equal(t, seqs[1:2], foundBy(t, m, "zquealer", Filter{}))
	require.Equal(t, seqs[3:], foundBy(t, m, "zqueal screen", Filter{}))
	require.Contains(t, foundBy(t, m, "3", Filter{}), seqs[2])
}
