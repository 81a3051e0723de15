package store

import (
	"bytes"
	"slices"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// saidDrop is an entry that says something was dropped, with what the record said
// up to it of who may drop what. Whatever can't be judged from an entry itself,
// such as whether a defect was open, is not judged.
type saidDrop struct {
	Dropped
	seq    int64
	at     time.Time
	may    bool                  // by the word of a supervisor, or of the policy in force
	policy checklists.KeepPolicy // zero by hand
	holds  []checklists.KeepHold // on then
}

// read reads the newest entry that the query finds; no body where there is none or
// it can't be read.
func (d *dropped) read(query string, args ...any) (entryRow, body, error) {
	var row entryRow
	if err := d.r.gorm().Where("mill = ?", d.mill).Where(query, args...).Order("seq DESC").Limit(1).Find(&row).Error; err != nil {
		return row, nil, err
	}
	return row, d.decoded(row), nil
}

// decoded is the body of an entry without what is personal in it, nil where it
// can't be read or is another's.
func (d *dropped) decoded(row entryRow) body {
	e, err := record.Read(row.Leaf, nil)
	if err != nil || e.Seq != row.Seq || e.Mill != string(d.mill) {
		return nil
	}
	b, err := decode(e.Kind, e.Version, e)
	if err != nil {
		return nil
	}
	return b
}

// judged finds out whose word a drop was, and what was held then.
func (d *dropped) judged(row entryRow, said Dropped) (drop saidDrop, err error) {
	drop = saidDrop{Dropped: said, seq: row.Seq, at: timeOf(row.At)}
	if said.Sort == "" && said.Policy == 0 {
		drop.may, err = d.settles(procedures.PersonID(row.Actor), row.Seq)
	} else if row.Actor == "" {
		drop.policy, drop.may, err = d.inForce(said, row.Seq)
	}
	if err != nil || !drop.may {
		return drop, err
	}
	drop.holds, err = d.held(row.Seq)
	return drop, err
}

// settles tells whether somebody was a supervisor by the last entry of them before
// seq. The first supervisor's has the mill for its subject.
func (d *dropped) settles(who procedures.PersonID, seq int64) (bool, error) {
	if who == "" {
		return false, nil
	}
	_, b, err := d.read("kind = ? AND subject = ? AND seq < ?", KindPerson, string(who), seq)
	if err != nil {
		return false, err
	}
	if p, ok := b.(*personBody); ok {
		return p.ID == who && p.Role == procedures.Supervisor && !p.Left, nil
	}
	var rows []entryRow
	if err := d.r.gorm().Order("seq DESC").Find(&rows, "mill = ? AND kind = ? AND subject = ? AND seq < ?", d.mill, KindPerson, string(d.mill), seq).Error; err != nil {
		return false, err
	}
	for _, row := range rows {
		if p, ok := d.decoded(row).(*personBody); ok && p.ID == who {
			return p.Role == procedures.Supervisor && !p.Left, nil
		}
	}
	return false, nil
}

// inForce is the policy a drop names, where it was that of its sort just before.
func (d *dropped) inForce(said Dropped, seq int64) (checklists.KeepPolicy, bool, error) {
	row, b, err := d.read("kind = ? AND subject = ? AND seq < ?", KindKeepFor, keepForSubject(said.Sort), seq)
	p, ok := b.(*keepForBody)
	if err != nil || !ok || row.Seq != said.Policy || p.Sort != said.Sort || len(said.Values) > 0 && p.Values == 0 || len(said.Photos) > 0 && p.Photos == 0 {
		return checklists.KeepPolicy{}, false, err
	}
	return p.KeepPolicy, true, nil
}

// held are the holds that were on just before seq.
func (d *dropped) held(seq int64) (on []checklists.KeepHold, err error) {
	for after := int64(-1); ; {
		var page []entryRow
		if err := d.r.gorm().Order("seq").Limit(verifyPage).Find(&page, "mill = ? AND kind IN ? AND seq > ? AND seq < ?", d.mill, []string{KindHold, KindHoldLifted}, after, seq).Error; err != nil {
			return nil, err
		}
		for _, row := range page {
			after = row.Seq
			switch b := d.decoded(row).(type) {
			case *holdBody:
				on = append(on, b.hold())
			case *holdLiftedBody:
				on = slices.DeleteFunc(on, func(h checklists.KeepHold) bool { return h.ID == b.ID })
			}
		}
		if len(page) < verifyPage {
			return on, nil
		}
	}
}

// zonesApart is how far local time is from UTC at most: a year ends that much
// earlier or later where the mill is.
const zonesApart = 14 * time.Hour

// mayDrop tells whether something of an entry may have been dropped by d: it
// stands before it, is of a sort that may be dropped, and by a policy of the
// policy's own, was kept for as long as it or the law says, and no hold named it.
// By a policy a photo goes under the sort of the first entry that names it.
func (d saidDrop) mayDrop(row entryRow) bool {
	rule, ok := checklists.KeepRuleOf(keepSortOf(row.Kind))
	if !d.may || !ok || row.Seq >= d.seq {
		return false
	}
	years := 0
	switch {
	case d.Sort == "":
		if rule.Timed {
			years = rule.Floor
		}
	case d.Sort == rule.Sort:
		years = d.policy.Values
		if len(d.Photos) > 0 && (years == 0 || d.policy.Photos > 0 && d.policy.Photos < years) {
			years = d.policy.Photos
		}
	case len(d.Photos) > 0:
		years = rule.Floor
	default:
		return false
	}
	// What an entry is about was over when it was made, or later.
	since := row.At
	if row.Happened != 0 {
		since = min(since, row.Happened)
	}
	if years > 0 && d.at.Add(zonesApart).Before(checklists.KeptUntil(timeOf(since).Add(-zonesApart), years, time.UTC)) {
		return false
	}
	kept := checklists.Kept{Day: row.Day, Mentions: func(id string) bool {
		return row.Actor == id || row.Subject == id || bytes.Contains(row.Leaf, []byte(`"`+id+`"`))
	}}
	return !slices.ContainsFunc(d.holds, func(h checklists.KeepHold) bool { return h.Covers(kept) })
}

// forbidden is the fault of an entry that says something was dropped which nobody
// may have dropped: one fault, of the first place.
func (b *besides) forbidden(said body, seq int64) ([]record.Fault, error) {
	if _, ok := said.(*droppedBody); !ok || b.dropped.none {
		return nil, nil
	}
	drop, err := b.dropped.entry(seq)
	if err != nil {
		return nil, err
	}
	fault := func(field string, what plain.Sentence) []record.Fault {
		return []record.Fault{{Change: record.DropForbidden, Field: field, What: what}}
	}
	if !drop.may {
		return fault("", plain.Say("Entry %d says that something was dropped, but neither was its writer a supervisor then, nor does it name the policy that was in force.", seq)), nil
	}
	for part := range slices.Chunk(drop.Values, 200) {
		seqs := make([]int64, len(part))
		for i, one := range part {
			seqs[i] = one.Seq
		}
		var rows []entryRow
		if err := b.tx.gorm().Find(&rows, "mill = ? AND seq IN ?", b.mill, seqs).Error; err != nil {
			return nil, err
		}
		for _, one := range part {
			i := slices.IndexFunc(rows, func(row entryRow) bool { return row.Seq == one.Seq })
			if i < 0 || !drop.mayDrop(rows[i]) {
				return fault(strings.Join(one.Paths[:min(1, len(one.Paths))], ""), plain.Say("Entry %[1]d says that something of entry %[2]d was dropped, which then nobody could drop.", seq, one.Seq)), nil
			}
		}
	}
	return nil, nil
}

// entryRowOf is a row of the table as it was read for verifying.
func entryRowOf(row record.Row) entryRow {
	return entryRow{Seq: row.Seq, ID: row.Columns.ID, Kind: row.Columns.Kind, Version: row.Columns.Version, Subject: row.Columns.Subject, Actor: row.Columns.Actor,
		At: millis(row.Columns.At), Happened: millis(row.Columns.Happened), Day: row.Columns.Day, Leaf: row.Leaf}
}
