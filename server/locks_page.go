package server

import (
	"net/url"
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) lockRegisterRoutes() {
	s.get("/locks", signedIn, s.showLocks)
	s.get("/locks/new", crew, s.showNewLock)
	s.post("/locks/new", crew, s.addLock)
	s.get("/locks/edit", crew, s.showLock)
	s.post("/locks/edit", crew, s.changeLock)
}

type locksPage struct {
	*views.Frame
	Own      bool // only the reader's own locks
	Untold   []registerLine
	Locks    []registerLine
	Retired  []registerLine
	Standard string // the mill's colour, "" while not said
	Cautions []plain.Sentence
}

// registerLine is one lock as the page shows it.
type registerLine struct {
	procedures.LockItem
	Owner string
	Edit  string           // address of the form, "" where the visitor changes nothing about it
	Off   []plain.Sentence // what keeps it from being put on
	On    []lockLine       // where it is reported on
	Where string           // address of the lockout it was taken off in while its owner was away
}

// KindWords names the kind of lock.
func (l registerLine) KindWords() plain.Sentence { return lockKindWords(l.Kind) }

func lockKindWords(kind procedures.LockKind) plain.Sentence {
	switch kind {
	case procedures.KeyedPadlock:
		return plain.Say("keyed padlock")
	case procedures.Combination:
		return plain.Say("combination lock")
	}
	return plain.Say("not known")
}

func (s *Server) showLocks(v *visit) error {
	register, err := v.desk.Locks(v.ctx())
	if err != nil {
		return err
	}
	std, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	open, err := v.desk.OpenLockouts(v.ctx())
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := locksPage{Frame: v.frame("Locks"), Own: !v.readsAll(), Standard: std.LockColour, Cautions: procedures.Cautions()}
	off := 0
	for _, item := range register {
		if page.Own && item.Owner != v.person.ID {
			continue
		}
		line := registerLine{LockItem: item, Owner: names[item.Owner], Off: item.OffStandard(std), On: reportedOn(open, item.Number, names)}
		if v.person.Works() && item.Retired.IsZero() {
			line.Edit = "/locks/edit?number=" + url.QueryEscape(item.Number)
		}
		if item.Untold != "" {
			line.Where = "/lockouts/" + string(item.Untold)
			page.Untold = append(page.Untold, line)
		}
		if !item.Retired.IsZero() {
			page.Retired = append(page.Retired, line)
			continue
		}
		if len(line.Off) > 0 {
			off++
		}
		page.Locks = append(page.Locks, line)
	}
	page.Title = plain.Say("Locks: %d in use", len(page.Locks))
	if off > 0 {
		page.Title = plain.Say("Locks: %[1]d in use, not to be put on: %[2]d", len(page.Locks), off)
	}
	return v.show("locks", page, nil)
}

func reportedOn(open []procedures.Lockout, number string, names map[procedures.PersonID]string) []lockLine {
	var on []lockLine
	for _, l := range open {
		for _, lock := range l.LocksOn() {
			if procedures.LockNumber(lock.Number) == procedures.LockNumber(number) {
				on = append(on, lockLine{Number: lock.Number, Owner: names[lock.Owner], Device: deviceLabel(l.Procedure, lock.Device), On: lock.On})
			}
		}
	}
	return on
}

// lockForm is what was typed.
type lockForm struct {
	Number, Kind, Colour, Owner, Condition, Issued string
	OnlyHere, Retire                               bool
}

func (v *visit) typedLock() lockForm {
	form := lockForm{Number: v.typed("number"), Kind: v.typed("kind"), Colour: v.typed("colour"), Owner: v.typed("owner"), Condition: v.typed("condition"),
		Issued: v.typed("issued"), OnlyHere: v.typed("only_here") == "yes", Retire: v.typed("retire") == "yes"}
	if !v.person.Supervises() {
		form.Owner = string(v.person.ID)
	}
	return form
}

// item is the form as a lock; a number that isn't new keeps what can't change.
func (v *visit) item(form lockForm, problems *plain.Problems) procedures.LockItem {
	item := procedures.LockItem{Number: form.Number, Kind: procedures.LockKind(form.Kind), Colour: form.Colour, Owner: procedures.PersonID(form.Owner),
		OnlyHere: form.OnlyHere, Condition: procedures.Condition(form.Condition), Issued: v.dayTyped("issued", problems)}
	if form.Retire {
		item.Retired = v.now
	}
	return item
}

type lockPage struct {
	*views.Frame
	Submission string
	Seen       string
	Act        string
	New        bool
	Others     bool // locks of others may be entered
	Form       lockForm
	Since      time.Time
	FirstSeen  bool // in a lockout; when it was issued is not known
	Owners     []views.Choice
	Kinds      []views.Choice
	Conditions []views.Choice
	Standard   string
	Cautions   []plain.Sentence
}

func (s *Server) showNewLock(v *visit) error {
	std, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	form := lockForm{Kind: string(procedures.KeyedPadlock), Colour: std.LockColour, Owner: string(v.person.ID), Condition: string(procedures.LockGood), Issued: v.dayText(v.now), OnlyHere: true}
	return v.lockPage(procedures.LockItem{}, form, store.NewID(), "", nil)
}

func (v *visit) lockPage(stored procedures.LockItem, form lockForm, submission, seen string, problems plain.Problems) error {
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	std, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	page := lockPage{Frame: v.frame("A new lock"), Submission: submission, Seen: seen, Act: "/locks/new", New: stored.Number == "", Others: v.person.Supervises(),
		Form: form, Since: stored.Issued, FirstSeen: stored.FirstSeen, Standard: std.LockColour, Cautions: procedures.Cautions()}
	page.Problems = problems
	if !page.New {
		page.Act, page.Form.Number = "/locks/edit?number="+url.QueryEscape(stored.Number), stored.Number
		page.Title = plain.Say("Lock %s", stored.Number)
	}
	for _, p := range people {
		if p.Works() {
			page.Owners = append(page.Owners, views.Choice{Value: string(p.ID), Text: p.Name})
		}
	}
	for _, kind := range []procedures.LockKind{procedures.KeyedPadlock, procedures.Combination} {
		page.Kinds = append(page.Kinds, views.Offer(string(kind), page.Say(lockKindWords(kind))))
	}
	page.Conditions = []views.Choice{{Value: string(procedures.LockGood), Text: page.T("Good")}, {Value: string(procedures.LockBad), Text: page.T("Not good: not to be used")}}
	return v.show("lock", page, problems)
}

func (s *Server) addLock(v *visit) error {
	form := v.typedLock()
	problems, err := v.keepLock(form, func(item procedures.LockItem) error {
		return v.desk.AddLock(v.ctx(), v.submission(), item, v.person, v.now)
	})
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.lockPage(procedures.LockItem{}, form, v.submission(), "", problems)
	}
	return v.moveOn("/locks", "lock")
}

// keepLock checks the form and the signature and keeps the lock.
func (v *visit) keepLock(form lockForm, keep func(procedures.LockItem) error) (plain.Problems, error) {
	var problems plain.Problems
	item := v.item(form, &problems)
	problems, err := v.signedToo(problems)
	if err != nil || len(problems) > 0 {
		return problems, err
	}
	if err := keep(item); err != nil {
		return problemsOf(err)
	}
	return nil, nil
}

// lockOf finds the lock the address names, if the visitor may see it.
func (v *visit) lockOf() (procedures.LockItem, error) {
	register, err := v.desk.Locks(v.ctx())
	if err != nil {
		return procedures.LockItem{}, err
	}
	at := slices.IndexFunc(register, func(l procedures.LockItem) bool {
		return procedures.LockNumber(l.Number) == procedures.LockNumber(v.Query("number")) && (v.readsAll() || l.Owner == v.person.ID)
	})
	if at < 0 {
		return procedures.LockItem{}, store.ErrNotFound
	}
	return register[at], nil
}

func (s *Server) showLock(v *visit) error {
	stored, err := v.lockOf()
	if err != nil {
		return err
	}
	form := lockForm{Number: stored.Number, Kind: string(stored.Kind), Colour: stored.Colour, Owner: string(stored.Owner), Condition: string(stored.Condition),
		OnlyHere: stored.OnlyHere, Retire: !stored.Retired.IsZero()}
	if stored.FirstSeen { // what was taken for right is not put into anybody's mouth
		form.Kind, form.Colour, form.Condition, form.OnlyHere = "", "", "", false
	}
	return v.lockPage(stored, form, store.NewID(), store.Mark(stored), nil)
}

func (s *Server) changeLock(v *visit) error {
	stored, err := v.lockOf()
	if err != nil {
		return err
	}
	form := v.typedLock()
	form.Number = stored.Number
	problems, err := v.keepLock(form, func(item procedures.LockItem) error {
		return v.desk.EditLock(v.ctx(), v.submission(), v.since(), item, v.person, v.now)
	})
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.again(problems, stands{store.KindLock, procedures.LockNumber(stored.Number), store.Mark(stored), func() error { return s.showLock(v) }},
			func() error { return v.lockPage(stored, form, v.submission(), v.typed("seen"), problems) })
	}
	return v.moveOn("/locks", "lock")
}
