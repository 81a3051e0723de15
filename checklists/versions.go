package checklists

import (
	"crypto/sha256"
	"encoding/json"
	"strings"
	"time"

	"github.com/go-json-experiment/json/jsontext"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// LatestForce is how far ahead a version may be published. Common practice, no
// source; a time further off is a slip of the hand.
const LatestForce = 366 * 24 * time.Hour

// Publishing is the word a supervisor signs on a list that is to be put in force.
type Publishing struct {
	Plant   procedures.Plant
	SetUp   SetUp
	Before  List              // the version it takes the place of; the zero List: it is the first
	Version int               // its number, one more than the newest
	At      time.Time         // of the signature
	From    time.Time         // when it is in force; zero: from the signature on
	Reasons map[ItemID]string // for what it asks less of ([Loosens]), by item; "" for the list as a whole
}

// Published returns the list as the version that is signed: validated, numbered,
// counted by set-up, with when it is in force and what it loosened and why. Its
// error is a [plain.Problems]: what [List.Validate] finds, "from" for a time that
// is past or beyond [LatestForce], and "reasons.ID" for each demand of a rule that
// is loosened without a reason.
func (l List) Published(p Publishing) (List, error) {
	var bad plain.Problems
	bad.Add("", l.Validate(p.Plant))
	if p.From.IsZero() {
		p.From = p.At
	}
	bad.Unless(!p.From.Before(p.At) && p.From.Sub(p.At) <= LatestForce, "from", "now, or a time to come within a year")
	bad.Unless(p.Version > p.Before.Version, "version", "a number counting up")
	l = l.Counted(p.SetUp)
	l.Version, l.InForce, l.Loosened = p.Version, p.From.UTC(), nil
	for _, loosened := range Loosens(p.Before, l) {
		loosened.Reason = strings.TrimSpace(p.Reasons[loosened.Item])
		bad.Unless(worded(loosened.Reason, LongestNote), "reasons."+string(loosened.Item), "why less is asked than the rule it comes from: %s", loosened.Source)
		l.Loosened = append(l.Loosened, loosened)
	}
	if err := bad.Err(); err != nil {
		return List{}, err
	}
	return l, nil
}

// Loosens is what after asks less of than before among the stops that come from
// a rule, one for each item and one with an empty id for the list as a whole. Each
// needs a supervisor's reason. A list in its first version loosens nothing.
func Loosens(before, after List) []Loosened {
	if before.Version == 0 {
		return nil
	}
	var all []Loosened
	for _, change := range Compare(before, after) {
		if !change.Loosens || change.Rule == "" {
			continue
		}
		loosened := Loosened{Item: change.Item, Prompt: before.Title, Source: change.Rule}
		if item, known := before.Item(change.Item); known {
			loosened.Prompt = item.Prompt
		}
		all = append(all, loosened)
	}
	return all
}

// InForceAt is the version in force at that time, the highest of those whose
// time has come: a higher one puts an end to a lower one, also to one that was
// still to come when it was published.
func InForceAt(versions []List, at time.Time) (List, bool) {
	var newest List
	for _, version := range versions {
		if version.inForce(at) && version.Version > newest.Version {
			newest = version
		}
	}
	return newest, newest.Version > 0
}

// ToCome are the versions that are published and not yet in force at that time,
// less those a higher one already put an end to; the next first.
func ToCome(versions []List, at time.Time) []List {
	var coming []List
	for next, known := soonest(versions, at); known; next, known = soonest(versions, next.InForce) {
		coming = append(coming, next)
	}
	return coming
}

// soonest is the version that will be the next to be in force after that time.
func soonest(versions []List, at time.Time) (next List, known bool) {
	present, _ := InForceAt(versions, at)
	for _, version := range versions {
		if version.Version <= present.Version || !version.InForce.After(at) {
			continue
		}
		if earlier := version.InForce.Compare(next.InForce); !known || earlier < 0 || earlier == 0 && version.Version > next.Version {
			next, known = version, true
		}
	}
	return next, known
}

// Anew is a draft of the version published once more, which says which one it
// repeats.
func (l List) Anew() List {
	again := l.AsDraft()
	again.Repeats = l.Version
	return again
}

// AsDraft is the list to begin the next version from: all it asks, and nothing of
// when it was published.
func (l List) AsDraft() List {
	l.Version, l.InForce, l.Repeats, l.Loosened = 0, time.Time{}, 0, nil
	items := make([]Item, len(l.Items))
	for n, item := range l.Items {
		items[n] = item.apart()
		items[n].Repeat.Times = 0
	}
	l.Items = items
	return l
}

// Digest is the SHA-256 of the list in canonical JSON (RFC 8785), its version
// and times included: two lists with the same digest are the same list. Its error
// is of a list that JSON has no word for, a number that is none.
func (l List) Digest() ([sha256.Size]byte, error) {
	text, err := json.Marshal(l.tidied())
	if err != nil {
		return [sha256.Size]byte{}, err
	}
	canonical := jsontext.Value(text)
	if err := canonical.Canonicalize(); err != nil {
		return [sha256.Size]byte{}, err
	}
	return sha256.Sum256(canonical), nil
}

// tidied is the list in the one form of those that mean the same: empty is none,
// times are in UTC.
func (l List) tidied() List {
	l.InForce = l.InForce.UTC().Round(0)
	items := make([]Item, len(l.Items))
	for n, item := range l.Items {
		if len(item.Options) == 0 {
			item.Options = nil
		}
		item.Nth = 0
		items[n] = item
	}
	l.Items = none(items)
	l.Loosened, l.Schedule.On, l.Schedule.People = none(l.Loosened), none(l.Schedule.On), none(l.Schedule.People)
	return l
}

// none is the slice, nil where it is empty.
func none[T any](all []T) []T {
	if len(all) == 0 {
		return nil
	}
	return all
}
