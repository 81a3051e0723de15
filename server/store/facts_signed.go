package store

import (
	"bytes"
	"cmp"
	"maps"
	"slices"
	"time"

	"stillsaw/checklists"
)

// signedPage is how many inspections are read at once.
const signedPage = 256

// reachOf is which inspections of a list can matter for what is due: those of some
// time back, or the last few however long ago.
type reachOf struct {
	back  time.Duration
	last  int  // 0: all within back
	bears bool // those nothing rests on any more are left out
	calls bool // it is answered by what happens
}

// reachFor: a list due every shift or day looks a few days back, not years.
func reachFor(l checklists.List) reachOf {
	switch l.Schedule.Every {
	case checklists.EachShift, checklists.EachDay:
		return reachOf{back: 12 * 24 * time.Hour, bears: true} // a shift of eight days ago is still spoken of, and its check may be signed well before it
	case checklists.EachWeek:
		return reachOf{back: 22 * 24 * time.Hour}
	case checklists.AfterDays, checklists.AfterHours, checklists.OnEvent:
		return reachOf{last: lastSigned, calls: l.Schedule.Every == checklists.OnEvent}
	}
	return reachOf{back: reach}
}

// within are those that matter at now of all, the newest first; the newest in any
// case: what was left unchecked then holds until somebody looks.
func (r reachOf) within(all []checklists.Inspection, now time.Time) []checklists.Inspection {
	if r.last > 0 {
		return all[:min(r.last, len(all))]
	}
	since := now.Add(-r.back)
	n, _ := slices.BinarySearchFunc(all, since, func(in checklists.Inspection, since time.Time) int {
		if in.At.After(since) {
			return -1
		}
		return 1
	})
	return all[:min(max(n, 1), len(all))]
}

// inspectionText is an inspection as it is read for the facts.
type inspectionText struct {
	ID   string
	List checklists.ListID
	At   int64
	Doc  string
}

func (row inspectionText) inspection() (checklists.Inspection, error) {
	return read[checklists.Inspection](row.Doc)
}

// inspectionTexts chooses inspections that were not misdated, the newest first, at most
// that many.
func inspectionTexts(tx *Tx, mill checklists.MillID, most int, query string, args ...any) (rows []inspectionText, err error) {
	err = rightly(tx, mill, KindInspection).Model(&inspectionRow{}).Order("at DESC, id DESC").Where("mill = ?", mill).Where(query, args...).Limit(most).Find(&rows).Error
	return rows, err
}

// loadSigned loads the inspections of every list and what was added to them.
func (tx *Tx) loadSigned(k *knownFacts, mill checklists.MillID) error {
	k.signed, k.facts.Amendments = make(map[checklists.ListID]signedList, len(k.facts.Lists)), nil
	for _, l := range k.facts.Lists {
		signed, err := tx.signedOf(k, mill, l)
		if err != nil {
			return err
		}
		k.signed[l.ID] = signed
	}
	slices.SortFunc(k.facts.Amendments, func(a, b checklists.Amendment) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	return nil
}

func (tx *Tx) signedOf(k *knownFacts, mill checklists.MillID, l checklists.List) (signed signedList, err error) {
	signed.of = reachFor(l)
	since, most := int64(0), signed.of.last
	if signed.of.last == 0 {
		since, most = millis(k.from.Add(-signed.of.back)), signedPage
	}
	rows, err := inspectionTexts(tx, mill, most, "list = ? AND at > ?", l.ID, since)
	if err == nil && len(rows) == 0 {
		rows, err = inspectionTexts(tx, mill, 1, "list = ?", l.ID)
	}
	for err == nil && len(rows) > 0 {
		if err = tx.addSigned(k, mill, &signed, rows); err != nil || len(rows) < signedPage {
			break
		}
		last := rows[len(rows)-1]
		rows, err = inspectionTexts(tx, mill, most, "list = ? AND at > ? AND (at, id) < (?, ?)", l.ID, since, last.At, last.ID)
	}
	signed.bore = len(signed.all)
	return signed, err
}

// addSigned adds older inspections to those of a list, and what was added to them.
func (tx *Tx) addSigned(k *knownFacts, mill checklists.MillID, signed *signedList, rows []inspectionText) error {
	from := len(signed.all)
	for _, row := range rows {
		in, err := row.inspection()
		if err != nil {
			return err
		}
		signed.all = append(signed.all, in)
	}
	amended, err := tx.amendments(mill, signed.all[from:])
	if err != nil {
		return err
	}
	slices.SortFunc(signed.all, newestFirst) // the rows know of milliseconds only
	k.facts.Amendments = append(k.facts.Amendments, amended...)
	if signed.of.bears {
		signed.all = k.facts.Bearing(signed.all, k.from)
	}
	return nil
}

// signedSince adds the further inspections of those ids to the lists they are of,
// and tells what else they change.
func (tx *Tx) signedSince(k *knownFacts, mill checklists.MillID, ids []string, now time.Time) (changed facets, err error) {
	var rows []inspectionText
	for part := range slices.Chunk(ids, signedPage) {
		some, err := inspectionTexts(tx, mill, signedPage, "id IN ?", evened(part))
		if err != nil {
			return 0, err
		}
		rows = append(rows, some...)
	}
	slices.SortFunc(rows, func(a, b inspectionText) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.ID, b.ID)) })
	k.signed = maps.Clone(k.signed)
	for _, row := range rows {
		also, err := k.oneMore(row.List, timeOf(row.At), now, row.inspection)
		if err != nil {
			return 0, err
		}
		changed |= also
	}
	return changed, nil
}

// oneMore adds a further inspection to the list it is of, one that is in force, and
// tells what else it changes; k.signed is k's own.
func (k *knownFacts) oneMore(list checklists.ListID, at, now time.Time, inspection func() (checklists.Inspection, error)) (changed facets, err error) {
	if !k.quietUntil(at, now) {
		changed |= facetHappenings
	}
	signed, inForce := k.signed[list]
	if !inForce {
		return changed, nil
	}
	if signed.of.calls {
		changed |= facetHappenings
	}
	in, err := inspection()
	if err != nil {
		return 0, err
	}
	k.signed[list] = k.added(signed, in)
	return changed, nil
}

// knowSigned brings facts that were known up to before to the entry of a signed check,
// without reading it back, where all it changes is that there is one more of its list.
// Where it changes more they are brought up from the tables when next asked for.
func (tx *Tx) knowSigned(mill checklists.MillID, before, after logHeadRow, last string, b *inspectionBody) {
	known := tx.known[mill]
	if known == nil || known.size != before.Size || !bytes.Equal(known.root, before.Root) || len(known.facts.Unsigned) > 0 || len(b.Defects) > 0 {
		return
	}
	in := b.inspection()
	if !known.holds(in.At) || slices.ContainsFunc(in.Answers, func(a checklists.Answer) bool { return a.Meter != "" }) {
		return
	}
	next := *known
	next.size, next.root, next.last = after.Size, after.Root, last
	next.only(in.At.Add(-factsBehind), time.Time{})
	next.signed = maps.Clone(next.signed)
	also, err := next.oneMore(in.List, timeOf(millis(in.At)), in.At, func() (checklists.Inspection, error) { return in, nil })
	if err == nil && also == 0 {
		tx.known[mill] = &next
	}
}

func newestFirst(a, b checklists.Inspection) int {
	return cmp.Or(b.At.Compare(a.At), cmp.Compare(b.ID, a.ID))
}

// added is the list with one more inspection, without those that are out of reach.
// The slices of before are others' too.
func (k *knownFacts) added(before signedList, in checklists.Inspection) signedList {
	at, _ := slices.BinarySearchFunc(before.all, in, newestFirst)
	more := before
	more.all = make([]checklists.Inspection, 0, len(before.all)+1)
	more.all = append(append(append(more.all, before.all[:at]...), in), before.all[at:]...)
	more.all = more.of.within(more.all, k.from)
	if more.of.bears && len(more.all) > 2*more.bore+signedPage/8 {
		more.all = k.facts.Bearing(more.all, k.from)
		more.bore = len(more.all)
	}
	return more
}

// quietUntil ends the stretch without a signed check with one signed at that time;
// false where that takes more than what is kept.
func (k *knownFacts) quietUntil(at, now time.Time) bool {
	quiet := k.facts.Quiet
	if len(quiet) == 0 {
		return true
	}
	last := quiet[len(quiet)-1].From
	if at.Before(last) || at.After(now) {
		return false
	}
	more := slices.Clone(quiet[:len(quiet)-1])
	if days := idleDays(k.facts.Lists); at.Sub(last) > time.Duration(days-1)*24*time.Hour {
		more = append(more, checklists.Quiet{From: last, Until: at})
	}
	k.facts.Quiet = append(more, checklists.Quiet{From: at})
	return true
}
