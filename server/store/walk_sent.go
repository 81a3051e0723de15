package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// ErrMeanwhile goes with problems of answers that are no slip of the form: things
// are not any more, or not yet, as they would have to be.
var ErrMeanwhile = errors.New("things stand otherwise meanwhile")

// Sent is what one sending of a form of answers brought.
type Sent struct {
	Answers []checklists.Answer
	Same    []checklists.Answer // sent as they are kept
	// Back are items whose answer the person took back, so that they have none. One
	// that another gave stays.
	Back []checklists.ItemID
	// Saved counts the sendings of one person's phone, growing. What is older than
	// what came before is left aside. Zero: the newest.
	Saved int64
	// Read is when the page was shown that the answers stand on. What only says once
	// more what the phone said before another answered since is left aside. Zero:
	// not known.
	Read time.Time
	Seen time.Time // when it was answered, without contact; zero: now
	// Submission keeps the sending from counting twice; "" for one that may.
	Submission string
}

type walkSaveRow struct {
	Mill   string `gorm:"primaryKey"`
	Walk   string `gorm:"primaryKey"`
	Item   string `gorm:"primaryKey"`
	Person string `gorm:"primaryKey"`
	Saved  int64
	Said   string
}

func (walkSaveRow) TableName() string { return "walk_saves" }

// TakeAnswers keeps answers of an inspection under way, given now, as
// [Mill.TakeSent] does.
func (m *Mill) TakeAnswers(ctx context.Context, id checklists.InspectionID, answers []checklists.Answer, by procedures.Person, at time.Time) error {
	return m.TakeSent(ctx, id, Sent{Answers: answers}, by, at)
}

// TakeSent keeps answers of an inspection under way. Those that hold are kept even
// when others have problems, so that nothing entered is lost; the problems come
// back with the item's id before each field ("C1.note"), joined with ErrMeanwhile
// where one of them is no slip of the form.
func (m *Mill) TakeSent(ctx context.Context, id checklists.InspectionID, sent Sent, by procedures.Person, at time.Time) error {
	var refused plain.Problems
	var meanwhile bool
	err := m.s.writer.do(ctx, func(tx *Tx) error {
		refused, meanwhile = nil, false
		if sent.Submission != "" {
			switch _, err := one[submissionRow](tx, "submission", "mill = ? AND id = ?", m.id, sent.Submission); {
			case err == nil:
				return nil
			case !errors.Is(err, ErrNotFound):
				return err
			}
		}
		w, err := walk(tx, m.id, id)
		if err != nil {
			return err
		}
		if err := tx.waitsFor(m.id, id, by); err != nil {
			return err
		}
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return err
		}
		if err := tx.runChecksSince(m.id, sent.Seen, &facts); err != nil {
			return err
		}
		if err := tx.ofAge(m.id, by, at); err != nil {
			return err
		}
		t := taking{tx, m.id, w, facts, sent, by, at}
		for _, a := range sent.Answers {
			err := t.take(a)
			var refusal *plain.Refusal
			meanwhile = meanwhile || errors.As(err, &refusal)
			if err := refuse(&refused, a.Item, err); err != nil {
				return err
			}
		}
		for _, a := range sent.Same {
			if err := t.saved(a); err != nil {
				return err
			}
		}
		for _, item := range sent.Back {
			if err := t.back(item); err != nil {
				return err
			}
		}
		if sent.Submission == "" || len(refused) > 0 {
			return nil
		}
		return tx.carriedOut(m.id, sent.Submission, "answers", string(id), at)
	})
	if err != nil {
		return err
	}
	if meanwhile {
		return errors.Join(refused.Err(), ErrMeanwhile)
	}
	return refused.Err()
}

// taking is answers on their way into a walk.
type taking struct {
	tx    *Tx
	mill  checklists.MillID
	walk  Walk
	facts checklists.Facts
	sent  Sent
	by    procedures.Person
	at    time.Time
}

// take keeps one answer, unless a newer one is there.
func (t taking) take(a checklists.Answer) error {
	kept, answered := t.kept(a.Item)
	last, err := t.last(a.Item)
	if err != nil {
		return err
	}
	seen := t.sent.Seen
	if seen.IsZero() || seen.After(t.at) {
		seen = t.at
	}
	others := answered && kept.By != t.by.ID
	since := others && !t.sent.Seen.IsZero() && kept.At.After(seen)
	worse := a.Result == checklists.Found && kept.Severity == checklists.Mend && a.Severity != checklists.Mend
	switch {
	case others && !t.sent.Read.IsZero() && kept.At.After(t.sent.Read) && last.Said != "" && last.Said == saying(a):
		return nil // nothing new: it came along with the rest of the form
	case last.Saved > t.sent.Saved && t.sent.Saved > 0, since && kept.Result == a.Result && !worse:
		if a.Photo == "" || kept.Photo != "" || kept.Result != a.Result {
			return nil
		}
		kept.Photo = a.Photo // came late, of the same that is kept
		return t.put(kept)
	case since:
		return plain.Refuse("", "Somebody else answered this after you, at %s. Look at it, and answer it again if it is not so.", kept.At)
	}
	taken, err := checklists.TakeSeen(t.walk.List, a.Item, a, t.by, t.facts, seen, t.at)
	if err != nil {
		return err
	}
	if err := t.put(taken); err != nil {
		return err
	}
	return t.saved(a)
}

// back leaves an item without the answer the person gave, unless a newer one is
// there. An older sending of it that comes later still does not bring it back.
func (t taking) back(item checklists.ItemID) error {
	kept, answered := t.kept(item)
	if last, err := t.last(item); err != nil || last.Saved > t.sent.Saved || !answered || kept.By != t.by.ID {
		return err
	}
	if err := t.tx.gorm().Delete(&walkAnswerRow{}, "mill = ? AND walk = ? AND item = ?", t.mill, t.walk.ID, item).Error; err != nil {
		return err
	}
	return t.saved(checklists.Answer{Item: item})
}

func (t taking) kept(item checklists.ItemID) (checklists.Answer, bool) {
	for _, a := range t.walk.Answers {
		if a.Item == item {
			return a, true
		}
	}
	return checklists.Answer{}, false
}

func (t taking) put(a checklists.Answer) error {
	return t.tx.putWalked(string(t.mill), string(t.walk.ID), a)
}

// last is what the person's phone sent last of the item; the zero row where it is
// not known or doesn't count.
func (t taking) last(item checklists.ItemID) (walkSaveRow, error) {
	if t.sent.Saved == 0 {
		return walkSaveRow{}, nil
	}
	row, err := one[walkSaveRow](t.tx, "saving", "mill = ? AND walk = ? AND item = ? AND person = ?", t.mill, t.walk.ID, item, t.by.ID)
	if errors.Is(err, ErrNotFound) {
		return walkSaveRow{}, nil
	}
	return row, err
}

// saved keeps what was taken last, and its count.
func (t taking) saved(a checklists.Answer) error {
	last, err := t.last(a.Item)
	if err != nil || last.Saved > t.sent.Saved || t.sent.Saved == 0 {
		return err
	}
	return t.tx.put(&walkSaveRow{Mill: string(t.mill), Walk: string(t.walk.ID), Item: string(a.Item), Person: string(t.by.ID), Saved: t.sent.Saved, Said: saying(a)}, "saved", "said")
}

// saying is a digest of what an answer says, as it was sent, its photo apart.
func saying(a checklists.Answer) string {
	a.Photo, a.By, a.At, a.Under, a.Run = "", "", time.Time{}, "", ""
	text, err := json.Marshal(a)
	if err != nil { // a number JSON has no word for: never the same
		return ""
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:16])
}

// runChecksSince adds the run checks that were in force when something was seen
// without contact, and what ended them.
func (tx *Tx) runChecksSince(mill checklists.MillID, seen time.Time, f *checklists.Facts) error {
	if seen.IsZero() {
		return nil
	}
	var runs []runCheckRow
	if err := rightly(tx, mill, KindRunCheck).Order("until, id").Find(&runs, "mill = ? AND until > ?", mill, millis(seen)).Error; err != nil {
		return err
	}
	f.RunChecks, f.LockoutsOver, f.DefectsOver = nil, nil, nil
	for _, row := range runs {
		f.RunChecks = append(f.RunChecks, row.Doc)
	}
	return tx.over(mill, f)
}
