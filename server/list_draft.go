package server

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// listDraft is a list as the editor shows it: the draft, or the newest version
// where there is none.
type listDraft struct {
	list     checklists.List
	revision int // of the draft; 0: there is none
	over     int // the newest version, whether or not it is in force yet; 0: none
	by       procedures.PersonID
	at       time.Time // when it was saved
	from     time.Time // of the newest version where there is no draft: when it is in force
}

// listToEdit loads a list as it stands now; ErrNotFound for an id that names
// none.
func (v *visit) listToEdit(id string) (listDraft, error) {
	var d listDraft
	newest, err := v.desk.Published(v.ctx(), store.Lists, id, 0)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return d, err
	}
	d.over, d.list.ID = newest.Version, checklists.ListID(id)
	draft, err := v.desk.Draft(v.ctx(), store.Lists, id)
	if errors.Is(err, store.ErrNotFound) {
		if d.over == 0 {
			return d, err
		}
		d.list, err = listIn(newest.Doc)
		d.from, d.list = d.list.InForce, d.list.AsDraft()
		return d, err
	}
	if err != nil {
		return d, err
	}
	d.revision, d.at = draft.Revision, draft.At
	if d.list, err = listIn(draft.Doc); err != nil {
		return d, err
	}
	d.list.ID = checklists.ListID(id)
	saved, err := v.desk.Saved(v.ctx(), store.Lists, id, draft.Revision)
	if err == nil {
		d.by = saved.By
	} else if !errors.Is(err, store.ErrNotFound) {
		return d, err
	}
	return d, nil
}

// listAsSeen is the list as the form sent was made from, with the revision and
// version it names. The list is the zero one where that is too long ago.
func (v *visit) listAsSeen() (listDraft, error) {
	now, err := v.listToEdit(v.Params("id"))
	if err != nil {
		return now, err
	}
	seen := listDraft{revision: wholeOr(v.typed("revision"), -1), over: wholeOr(v.typed("over"), -1)}
	switch {
	case seen.revision == now.revision && seen.over == now.over:
		return now, nil
	case seen.revision > 0:
		saved, err := v.desk.Saved(v.ctx(), store.Lists, v.Params("id"), seen.revision)
		if errors.Is(err, store.ErrNotFound) {
			return seen, nil
		}
		if err != nil {
			return seen, err
		}
		seen.list, err = listIn(saved.Doc)
		return seen, err
	case seen.revision == 0 && seen.over > 0:
		seen.list, err = v.desk.List(v.ctx(), checklists.ListID(v.Params("id")), seen.over)
		seen.list = seen.list.AsDraft()
		if errors.Is(err, store.ErrNotFound) {
			return seen, nil
		}
	}
	return seen, err
}

// wholeOr is a whole number typed, or otherwise.
func wholeOr(typed string, otherwise int) int {
	n, err := strconv.Atoi(typed)
	if err != nil || n < 0 {
		return otherwise
	}
	return n
}

// keepList keeps a draft made from what was seen. Its error is store.ErrChanged
// when somebody saved or published meanwhile.
func (v *visit) keepList(seen listDraft, l checklists.List) error {
	draft, err := store.DraftOf(store.Lists, string(l.ID), l.Title, l)
	if err != nil {
		return err
	}
	draft.Revision = seen.revision
	return v.desk.KeepList(v.ctx(), draft, seen.over, v.person, v.now)
}

// versionsOf are all published versions of a list, newest first.
func (v *visit) versionsOf(id string) ([]checklists.List, error) {
	published, err := v.desk.Versions(v.ctx(), checklists.ListID(id))
	versions := make([]checklists.List, len(published))
	for i := range published {
		if err == nil {
			versions[i], err = listIn(published[i].Doc)
		}
	}
	return versions, err
}

// listActs carries out one button of the editor on a list. Its error is a
// plain.Problems for a section's name.
func (v *visit) listActs(l checklists.List, versions []checklists.List) (checklists.List, checklists.ItemID, error) {
	act, of, _ := strings.Cut(v.typed("do"), ".")
	id := checklists.ItemID(of)
	sections := l.Sections()
	section := func(at string) string {
		if n := wholeOr(at, -1); n >= 0 && n < len(sections) {
			return sections[n].Name
		}
		return ""
	}
	var err error
	switch act {
	case "up":
		return besides(l, id, -1), id, nil
	case "down":
		return besides(l, id, 1), id, nil
	case "move":
		return dropped(l, id, section(v.typed("into."+of)), checklists.ItemID(v.typed("before")), checklists.ItemID(v.typed("after"))), id, nil
	case "copy":
		l, id = l.Copied(id, versions...)
		return l, id, nil
	case "remove":
		return l.Without(id), "", nil
	case "fit":
		return changedItem(l, id, func(item *checklists.Item) { item.NotFitted = !item.NotFitted }), id, nil
	case "add":
		l, id = addedTo(l, section(of), versions)
		return l, id, nil
	case "section-add":
		return l.WithSection(v.typed("section"), procedures.EquipmentID(v.typed("section-equipment")), versions...)
	case "section-rename":
		l, err = l.RenamedSection(section(of), v.typed("rename."+of))
	case "section-up":
		l, err = l.MovedSection(section(of), -1)
	case "section-down":
		l, err = l.MovedSection(section(of), 1)
	case "section-merge":
		l, err = l.MergedSections(section(of), section(v.typed("merge."+of)))
	case "section-split":
		l, err = l.SplitSection(id, v.typed("split."+of))
	case "section-remove":
		l, err = l.WithoutSection(section(of))
	case "head":
		err = v.listHead(&l)
	}
	return l, "", err
}

// besides moves an item past its neighbour as one walks: within its state of
// the machine and its station.
func besides(l checklists.List, id checklists.ItemID, by int) checklists.List {
	moving, known := l.Item(id)
	if !known {
		return l
	}
	var beside []checklists.ItemID
	for _, item := range checklists.Walked(l.Items) {
		if item.State == moving.State && item.Station == moving.Station {
			beside = append(beside, item.ID)
		}
	}
	to := slices.Index(beside, id) + by
	if to < 0 || to >= len(beside) {
		return l
	}
	return l.MovedTo(id, itemPlace(l, beside[to]))
}

// dropped moves an item into a section ("" leaves it in its own), before
// another or, where there is none, behind one; without either to the end.
func dropped(l checklists.List, id checklists.ItemID, section string, before, after checklists.ItemID) checklists.List {
	if section != "" {
		l = l.MovedInto(id, section)
	}
	from, to := itemPlace(l, id), itemPlace(l, before)
	if behind := itemPlace(l, after); to < 0 && behind >= 0 {
		to = behind + 1
	}
	if from < 0 || to < 0 {
		return l
	}
	if from < to {
		to--
	}
	return l.MovedTo(id, to)
}

func itemPlace(l checklists.List, id checklists.ItemID) int {
	return slices.IndexFunc(l.Items, func(i checklists.Item) bool { return i.ID == id })
}

func changedItem(l checklists.List, id checklists.ItemID, change func(*checklists.Item)) checklists.List {
	l.Items = slices.Clone(l.Items)
	if at := itemPlace(l, id); at >= 0 {
		change(&l.Items[at])
	}
	return l
}

// addedTo adds an item at the end of a section, done and about what the last
// one there is.
func addedTo(l checklists.List, section string, versions []checklists.List) (checklists.List, checklists.ItemID) {
	added, id := l.WithNew(versions...)
	if section == "" {
		return added, id
	}
	for _, item := range l.Items {
		if item.Station == section {
			added = changedItem(added, id, func(n *checklists.Item) { n.Equipment, n.State = item.Equipment, item.State })
		}
	}
	return added.MovedInto(id, section), id
}

// listHead reads the title, when the list falls due and who is expected.
func (v *visit) listHead(l *checklists.List) error {
	var problems plain.Problems
	l.Title = v.typed("title")
	s := &l.Schedule
	s.Every, s.Holds, s.HoldsLate = checklists.Period(v.typed("schedule")), v.typed("holds") == "due", v.typed("holds") == "late"
	s.Meter = checklists.MeterID(v.typed("schedule.meter"))
	s.Days, s.Grace, s.Hours = 0, 0, 0
	for field, into := range map[string]*int{"schedule.days": &s.Days, "schedule.grace": &s.Grace} {
		if typed := v.typed(field); typed != "" {
			*into = wholeOr(typed, -1)
			problems.Unless(*into >= 0, field, "a whole number")
		}
	}
	if typed := v.typed("schedule.hours"); typed != "" {
		hours, err := checklists.ParseNumber(v.typedIn.pointed("schedule.hours", typed, &problems))
		problems.At("schedule.hours", err)
		s.Hours = hours
	}
	s.Role, s.People = procedures.Role(v.typed("schedule.role")), nil
	names, err := v.names()
	if err != nil {
		return err
	}
	for _, typed := range v.Context().PostArgs().PeekMulti("schedule.people") {
		id := procedures.PersonID(typed)
		_, known := names[id]
		problems.Unless(known, "schedule.people", "somebody of the crew")
		s.People = append(s.People, id)
	}
	s.On = nil
	for _, kind := range checklists.EventKinds() {
		if v.typed("on."+string(kind)) == "yes" {
			s.On = append(s.On, kind)
		}
	}
	return problems.Err()
}
