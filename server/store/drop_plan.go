package store

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// What one night drops at most, so that neither an entry nor the night gets long.
const (
	dropValuesMost = 2000
	dropPhotosMost = 500
)

// Due is what the policy of one sort would drop now.
type Due struct {
	Rule   checklists.KeepRule
	Policy *checklists.KeepPolicy // nil: nobody has set one, all is kept for good
	Seq    int64                  // entry that set it
	Values int                    // personal values due, counted up to what a night drops
	Photos int                    // photos due, likewise
}

func keepPolicies(r reader, mill checklists.MillID) (map[checklists.KeepSort]keepPolicyRow, error) {
	var rows []keepPolicyRow
	err := r.gorm().Find(&rows, "mill = ?", mill).Error
	policies := make(map[checklists.KeepSort]keepPolicyRow, len(rows))
	for _, row := range rows {
		policies[checklists.KeepSort(row.Sort)] = row
	}
	return policies, err
}

// KeepPolicies lists every sort of record with its policy, and counts nothing.
func (m *Mill) KeepPolicies(ctx context.Context) ([]Due, error) {
	policies, err := keepPolicies(ctxReader{m, ctx}, m.id)
	var all []Due
	for _, rule := range checklists.KeepRules() {
		due := Due{Rule: rule}
		if row, ok := policies[rule.Sort]; ok {
			due.Policy, due.Seq = &row.Doc, row.Seq
		}
		all = append(all, due)
	}
	return all, err
}

// Due counts, for every sort of record, what its policy would drop at now.
func (m *Mill) Due(ctx context.Context, now time.Time) ([]Due, error) {
	all, err := m.KeepPolicies(ctx)
	if err != nil {
		return nil, err
	}
	drops, err := duePlans(ctxReader{m, ctx}, m.id, now)
	if err != nil {
		return nil, err
	}
	for i := range all {
		for _, d := range drops {
			if d.Sort == all[i].Rule.Sort {
				all[i].Values, all[i].Photos = d.Count(), len(d.Photos)
			}
		}
	}
	return all, nil
}

// duePlans are what the policies drop at now, one for each sort that has anything
// due, bounded for a night.
func duePlans(r reader, mill checklists.MillID, now time.Time) ([]Dropped, error) {
	policies, err := keepPolicies(r, mill)
	if err != nil || len(policies) == 0 {
		return nil, err
	}
	own, err := one[millRow](r, "mill", "id = ?", mill)
	if err != nil {
		return nil, err
	}
	zone, err := own.Doc.LocationAt(now)
	if err != nil {
		return nil, err
	}
	k, err := keepingOf(r, mill, now)
	if err != nil {
		return nil, err
	}
	photos, err := k.duePhotos(policies, zone)
	if err != nil {
		return nil, err
	}
	var all []Dropped
	for _, rule := range checklists.KeepRules() {
		row, ok := policies[rule.Sort]
		if !ok {
			continue
		}
		d := Dropped{Sort: rule.Sort, Policy: row.Seq, Photos: photos[rule.Sort]}
		if d.Values, err = k.dueValues(row.Doc, policies, zone); err != nil {
			return nil, err
		}
		if !d.Empty() {
			all = append(all, d)
		}
	}
	return all, nil
}

// dueValues are the personal values of one sort whose time is over.
func (k *keeping) dueValues(p checklists.KeepPolicy, policies map[checklists.KeepSort]keepPolicyRow, zone *time.Location) ([]DroppedValues, error) {
	if p.Values == 0 {
		return nil, nil
	}
	// What is younger than that can't be over long enough.
	before := time.Date(k.now.In(zone).Year()-p.Values, 1, 1, 0, 0, 0, 0, zone)
	var due []DroppedValues
	count := 0
	for last := int64(-1); count < dropValuesMost; {
		var page []entryRow
		err := k.r.gorm().Order("seq").Limit(verifyPage).Find(&page, `mill = ? AND kind IN ? AND at < ? AND seq > ?
			AND EXISTS (SELECT 1 FROM openings WHERE openings.mill = ? AND openings.seq = entries.seq AND openings.value <> '')`, k.mill, kindsOf(p.Sort), millis(before), last, k.mill).Error
		if err != nil {
			return nil, err
		}
		openings, err := openingsOf(k.r, k.mill, page)
		if err != nil {
			return nil, err
		}
		for _, row := range page {
			last = row.Seq
			kept, _, err := k.kept(row, openings[row.Seq])
			if err != nil {
				return nil, err
			}
			if count < dropValuesMost && kept.Due(keptTogether(kept, policies, func(p checklists.KeepPolicy) int { return p.Values }), k.holds, k.now, zone) {
				paths := wordsAt(openings[row.Seq])
				due = append(due, DroppedValues{Seq: row.Seq, Paths: paths})
				count += len(paths)
			}
		}
		if len(page) < verifyPage {
			break
		}
	}
	return due, nil
}

// keptTogether is for how many years an entry is kept by the policies of its sort and
// of what belongs together with it: the longest, 0 where one is for good.
func keptTogether(kept checklists.Kept, policies map[checklists.KeepSort]keepPolicyRow, of func(checklists.KeepPolicy) int) int {
	longest := 0
	for _, sort := range append([]checklists.KeepSort{kept.Sort}, kept.With...) {
		years := of(policies[sort].Doc)
		if years == 0 {
			return 0
		}
		longest = max(longest, years)
	}
	return longest
}

// wordsAt are the places of those openings where something was written. That
// nothing stands at a place says nothing of anybody and stays.
func wordsAt(openings []record.Opening) []string {
	var paths []string
	for _, o := range openings {
		if o.Value != "" {
			paths = append(paths, o.Path)
		}
	}
	return paths
}

// duePhotos are the photos whose time is over by the policy of every entry that
// names them, under the sort of the first. One that no entry names stays.
func (k *keeping) duePhotos(policies map[checklists.KeepSort]keepPolicyRow, zone *time.Location) (map[checklists.KeepSort][]string, error) {
	least := 0
	for _, row := range policies {
		if row.Doc.Photos > 0 && (least == 0 || row.Doc.Photos < least) {
			least = row.Doc.Photos
		}
	}
	if least == 0 {
		return nil, nil
	}
	before := time.Date(k.now.In(zone).Year()-least, 1, 1, 0, 0, 0, 0, zone)
	var old []string
	if err := k.r.gorm().Model(&photoRow{}).Where("mill = ? AND dropped = 0 AND at < ?", k.mill, millis(before)).Order("at, digest").Pluck("digest", &old).Error; err != nil {
		return nil, err
	}
	uses, err := k.uses(old)
	if err != nil {
		return nil, err
	}
	due := map[checklists.KeepSort][]string{}
	count := 0
	for _, digest := range old {
		sort, goes := checklists.KeepSort(""), len(uses[digest]) > 0
		for i, seq := range uses[digest] {
			row, openings, err := k.entry(seq)
			if err != nil {
				return nil, err
			}
			kept, _, err := k.kept(row, openings)
			if err != nil {
				return nil, err
			}
			if i == 0 {
				sort = kept.Sort
			}
			goes = goes && kept.Due(keptTogether(kept, policies, func(p checklists.KeepPolicy) int { return p.Photos }), k.holds, k.now, zone)
		}
		if goes {
			due[sort] = append(due[sort], digest)
			if count++; count == dropPhotosMost {
				break
			}
		}
	}
	for _, digests := range due {
		slices.Sort(digests)
	}
	return due, nil
}

func (k *keeping) entry(seq int64) (entryRow, []record.Opening, error) {
	row, err := one[entryRow](k.r, "entry", "mill = ? AND seq = ?", k.mill, seq)
	if err != nil {
		return row, nil, err
	}
	openings, err := openingsOf(k.r, k.mill, []entryRow{row})
	return row, openings[seq], err
}

// uses finds the entries that name each of the photos, oldest first, in one pass
// over all leaves: a digest stands in a leaf as it is.
func (k *keeping) uses(digests []string) (map[string][]int64, error) {
	uses := make(map[string][]int64, len(digests))
	if len(digests) == 0 {
		return uses, nil
	}
	for _, digest := range digests {
		uses[digest] = nil
	}
	rows, err := k.r.gorm().Raw("SELECT seq, leaf FROM entries WHERE mill = ? AND kind <> ? ORDER BY seq", k.mill, KindDropped).Rows()
	if err != nil {
		return nil, err
	}
	err = eachRow(rows, func() error {
		var seq int64
		var leaf []byte
		if err := rows.Scan(&seq, &leaf); err != nil {
			return err
		}
		for text := range quoted(leaf) {
			known, asked := uses[string(text)]
			if asked && (len(known) == 0 || known[len(known)-1] != seq) {
				uses[string(text)] = append(known, seq)
			}
		}
		return nil
	})
	return uses, err
}

// quoted walks the strings of 64 characters between quotes in a leaf.
func quoted(leaf []byte) func(func([]byte) bool) {
	return func(yield func([]byte) bool) {
		for {
			i := bytes.IndexByte(leaf, '"')
			if i < 0 {
				return
			}
			leaf = leaf[i+1:]
			if len(leaf) > 64 && leaf[64] == '"' && !yield(leaf[:64]) {
				return
			}
		}
	}
}

// Going is what a supervisor means to drop by hand: one personal field of an entry
// and of every other entry about the same thing that repeats it, all that is kept
// of a person who left, or one photo.
type Going struct {
	Seq    int64
	Path   string // JSON pointer into the body of the entry Seq
	Person procedures.PersonID
	Photo  string // digest
}

// Shown is what would go, before it does.
type Shown struct {
	Dropped
	Texts []string // what stands there, each once
	Uses  []int64  // entries that name the photo

	// Left are entries where the same words stand and stay: others' own, a larger
	// text that holds them, or what is kept. More counts those beyond.
	Left []int64
	More int
}

// ShowDrop says what would go. Its error is a [plain.Refusal] where the rules keep
// it, or ErrNotFound.
func (m *Mill) ShowDrop(ctx context.Context, g Going, by procedures.Person, now time.Time) (Shown, error) {
	return showDrop(ctxReader{m, ctx}, m.id, g, by, now)
}

func showDrop(r reader, mill checklists.MillID, g Going, by procedures.Person, now time.Time) (Shown, error) {
	own, err := one[millRow](r, "mill", "id = ?", mill)
	if err != nil {
		return Shown{}, err
	}
	zone, err := own.Doc.LocationAt(now)
	if err != nil {
		return Shown{}, err
	}
	k, err := keepingOf(r, mill, now)
	if err != nil {
		return Shown{}, err
	}
	var shown Shown
	switch {
	case g.Photo != "":
		if err = k.showPhoto(&shown, g.Photo); err != nil {
			return Shown{}, err
		}
	case g.Person != "":
		if err = k.showPerson(&shown, g.Person); err != nil {
			return Shown{}, err
		}
	default:
		if err = k.showField(&shown, g.Seq, g.Path, by, zone); err != nil {
			return Shown{}, err
		}
	}
	if shown.Empty() {
		return Shown{}, ErrNotFound
	}
	// Whether it may go is asked for every entry it is of.
	seqs := slices.Clone(shown.Uses)
	for _, one := range shown.Values {
		seqs = append(seqs, one.Seq)
	}
	for _, seq := range seqs {
		row, openings, err := k.entry(seq)
		if err != nil {
			return Shown{}, err
		}
		if err := k.allows(row, openings, by, zone); err != nil {
			return Shown{}, err
		}
	}
	return shown, nil
}

// allows refuses to drop something of an entry by hand, with words that pass.
func (k *keeping) allows(row entryRow, openings []record.Opening, by procedures.Person, zone *time.Location) error {
	kept, _, err := k.kept(row, openings)
	if err != nil {
		return err
	}
	err = checklists.DropByHand{Reason: "-", Rule: "-"}.Allow(kept, k.holds, by, k.now, zone)
	var refusal *plain.Refusal
	if errors.As(err, &refusal) {
		return plain.Refuse(refusal.Clause, "Entry %[1]d: %[2]s", row.Seq, refusal.Why)
	}
	return err
}

func (k *keeping) showPhoto(shown *Shown, digest string) error {
	row, err := one[photoRow](k.r, "photo", "mill = ? AND digest = ?", k.mill, digest)
	if err != nil {
		return err
	}
	if row.Dropped > 0 {
		return plain.Refuse("", "This photo is no longer kept.")
	}
	uses, err := k.uses([]string{digest})
	if err != nil {
		return err
	}
	if shown.Uses = uses[digest]; len(shown.Uses) == 0 {
		return plain.Refuse("", "No entry names this photo, so no entry could say that it was dropped.")
	}
	shown.Photos = []string{digest}
	return nil
}

// showPerson gathers what the person's own entries say: name, notes, the day of
// coming of age.
func (k *keeping) showPerson(shown *Shown, id procedures.PersonID) error {
	if here, known := k.here[id]; !known {
		return ErrNotFound
	} else if here {
		return plain.Refuse("", "Somebody who works here keeps the name. Enter first that this person has left.")
	}
	// The first supervisor's entry has the mill for its subject, as it began with it.
	var rows []entryRow
	if err := k.r.gorm().Order("seq").Find(&rows, "mill = ? AND kind = ? AND (subject = ? OR subject = ?)", k.mill, KindPerson, id, string(k.mill)).Error; err != nil {
		return err
	}
	openings, err := openingsOf(k.r, k.mill, rows)
	if err != nil {
		return err
	}
	var names []string
	for _, row := range rows {
		if _, b, err := k.kept(row, openings[row.Seq]); err != nil {
			return err
		} else if p, ok := b.(*personBody); ok && p.ID == id {
			shown.add(row.Seq, openings[row.Seq])
			names = append(names, string(p.Name))
		}
	}
	return k.named(shown, names)
}

// add takes up places of an entry, in the order of entries and places.
func (s *Shown) add(seq int64, openings []record.Opening) {
	openings = slices.DeleteFunc(slices.Clone(openings), func(o record.Opening) bool { return o.Value == "" })
	if len(openings) == 0 {
		return
	}
	i, found := slices.BinarySearchFunc(s.Values, seq, func(one DroppedValues, seq int64) int { return cmp.Compare(one.Seq, seq) })
	if !found {
		s.Values = slices.Insert(s.Values, i, DroppedValues{Seq: seq})
	}
	for _, o := range openings {
		s.Values[i].Paths = append(s.Values[i].Paths, o.Path)
		if !slices.Contains(s.Texts, o.Value) {
			s.Texts = append(s.Texts, o.Value)
		}
	}
	slices.Sort(s.Values[i].Paths)
}
