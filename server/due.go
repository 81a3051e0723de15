package server

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func (s *Server) dueRoutes() {
	s.get("/due", signedIn, s.showDue)
	s.get("/due/happened", crew, s.showHappened)
	s.post("/due/happened", crew, s.reportHappened)
	s.get("/due/excuse", supervisors, s.showExcuse)
	s.post("/due/excuse", supervisors, s.excuseMiss)
	s.get("/due/starters", supervisors, s.showStarters)
	s.post("/due/starters", supervisors, s.addStarters)
}

// eventsShown is how many reported events the page goes back.
const eventsShown = 8

type duePage struct {
	*views.Frame
	Waits  []dueLine // due or late, each with what to do
	Coming []dueLine
	Later  []dueLine // without a time: by hours run, or on event
	Missed []dueLine
	Events []happenedLine
	Hoist  bool // there is one that a shock load could be reported at
	Closed plain.Sentence
	// Unasked: what was just reported calls for no list in force.
	Unasked bool
}

// dueLine is one list, or one shift or period of it.
type dueLine struct {
	Title  string
	Word   plain.Sentence // due, late, missed, excused
	Said   plain.Sentence
	Shift  string
	Opens  time.Time
	Who    plain.Sentence // who is expected
	Calls  []happenedLine
	Fewer  plain.Sentence // which calls are among them, where not all may be
	Check  string         // where it is gone through
	Excuse string         // where a supervisor gives the reason
	By     string         // who excused it
	Late   bool
}

type happenedLine struct {
	Said plain.Sentence
	Who  string
	At   time.Time
}

func (s *Server) showDue(v *visit) error {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	events, err := v.desk.Events(v.ctx(), eventsShown)
	if err != nil {
		return err
	}
	page := duePage{Frame: v.frame("What is due"), Unasked: v.Query("done") == "event-unasked"}
	for _, e := range events {
		page.Events = append(page.Events, eventOn(e, facts.Plant, names))
	}
	for _, e := range facts.Plant {
		page.Hoist = page.Hoist || e.Kind == procedures.Hoist
	}
	for _, coming := range facts.Upcoming(v.now) {
		list, state := listOf(facts, coming.List, v.now)
		line := dueLine{Title: coming.Title, Said: coming.Said, Shift: coming.Shift, Opens: coming.Opens, Who: expected(coming.People, coming.Role, names)}
		switch {
		case coming.Now, state.Status == checklists.DueUnknown:
			line.Word, line.Late = dueWord(state.Status), state.Status == checklists.IsLate
			line.Said = state.Said
			for _, call := range state.Calls {
				line.Calls = append(line.Calls, eventOn(call, facts.Plant, names))
			}
			if state.Abridged() {
				line.Fewer = plain.Say("Of what was returned to service on one machine, the first and the last %d are listed; the record has all.", checklists.CallsKept)
			}
			if v.person.Works() {
				line.Check = "/inspections/new?list=" + string(list.ID)
			}
			line.Excuse = v.excuseAt(list.ID, state)
			page.Waits = append(page.Waits, line)
			if next, some := facts.Following(list, v.now); some {
				page.Coming = append(page.Coming, dueLine{Title: next.Title, Said: next.Said, Shift: next.Shift, Opens: next.Opens, Who: expected(next.People, next.Role, names)})
			}
		case coming.Unknown:
			page.Later = append(page.Later, line)
		default:
			page.Coming = append(page.Coming, line)
		}
	}
	slices.SortStableFunc(page.Coming, func(a, b dueLine) int { return a.Opens.Compare(b.Opens) })
	for _, l := range facts.Lists {
		for _, state := range facts.Missed(l, v.now) {
			line := dueLine{Title: l.Title, Word: dueWord(state.Status), Said: state.Said, Shift: state.Shift, Opens: state.Starts, Excuse: v.excuseAt(l.ID, state)}
			if state.Excuse != nil {
				line.By = names[state.Excuse.By]
			}
			page.Missed = append(page.Missed, line)
		}
	}
	for _, c := range facts.Mill.Closed {
		if !v.now.Before(c.From) && v.now.Before(c.Until) {
			page.Closed = plain.Say("The mill is closed until %s: %s", c.Until, c.Reason)
		}
	}
	page.Title = dueTitle(page)
	return v.show("due", page, nil)
}

func dueTitle(page duePage) plain.Sentence {
	open := 0
	for _, line := range page.Missed {
		if line.By == "" {
			open++
		}
	}
	switch {
	case len(page.Waits) == 0 && open == 0:
		return plain.Say("Nothing is due")
	case open == 0:
		return plain.Say("Due now: %d", len(page.Waits))
	case len(page.Waits) == 0:
		return plain.Say("Nothing is due; missed: %d", open)
	}
	return plain.Say("Due now: %[1]d; missed: %[2]d", len(page.Waits), open)
}

// listOf is a list in force and how it stands.
func listOf(facts checklists.Facts, id checklists.ListID, now time.Time) (checklists.List, checklists.DueState) {
	for _, l := range facts.Lists {
		if l.ID == id {
			return l, facts.Due(l, now)
		}
	}
	return checklists.List{}, checklists.DueState{}
}

// excuseAt is where a supervisor gives the reason for a miss that has none yet.
func (v *visit) excuseAt(list checklists.ListID, state checklists.DueState) string {
	if !v.person.Supervises() || state.Excuse != nil || state.Starts.IsZero() {
		return ""
	}
	return fmt.Sprintf("/due/excuse?list=%s&starts=%d", list, state.Starts.UnixMilli())
}

func eventOn(e checklists.Event, plant procedures.Plant, names map[procedures.PersonID]string) happenedLine {
	line := happenedLine{Who: names[e.By], At: e.Happened, Said: plain.Say("%[1]s: %[2]s", nameIn(plant, e.Equipment), e.Kind.Said())}
	if e.Equipment == "" {
		line.Said = plain.Say("The whole mill: %s", e.Kind.Said())
	}
	if e.Note != "" {
		line.Said = plain.Say("%[1]s. %[2]s", line.Said, e.Note)
	}
	return line
}

// expected says who is to do it; nothing where anyone of the crew may.
func expected(people []procedures.PersonID, role procedures.Role, names map[procedures.PersonID]string) plain.Sentence {
	var named []string
	for _, p := range people {
		if names[p] != "" {
			named = append(named, names[p])
		}
	}
	switch {
	case len(named) > 0:
		return plain.Say("Expected: %s.", named)
	case role != "":
		return plain.Say("Expected: %s.", roleWords(role))
	}
	return plain.Sentence{}
}

type excusePage struct {
	*views.Frame
	Submission string
	List       string
	Starts     string
	Reason     string
	Said       plain.Sentence
	At         time.Time
	Shift      string
}

func (s *Server) showExcuse(v *visit) error {
	return v.excusePage(v.Query("list"), v.Query("starts"), nil)
}

func (v *visit) excusePage(list, starts string, problems plain.Problems) error {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	page := excusePage{Frame: v.frame("Why it was not done"), Submission: v.submission(), List: list, Starts: starts, Reason: v.typed("reason"), At: momentOf(starts)}
	page.Problems = problems
	l, state := listOf(facts, checklists.ListID(list), v.now)
	page.Said = plain.Say("%[1]s, from %[2]s", l.Title, page.At)
	for _, missed := range append(facts.Missed(l, v.now), state) {
		if missed.Starts.Equal(page.At) {
			page.Shift = missed.Shift
		}
	}
	return v.show("due-excuse", page, problems)
}

// momentOf reads the milliseconds an address names a time with.
func momentOf(typed string) time.Time {
	ms, err := strconv.ParseInt(typed, 10, 64)
	if err != nil {
		return time.Time{}
	}
	return time.UnixMilli(ms).UTC()
}

func (s *Server) excuseMiss(v *visit) error {
	list, starts := v.typed("list"), v.typed("starts")
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		err = v.desk.ExcuseMiss(v.ctx(), v.submission(), checklists.ListID(list), momentOf(starts), v.typed("reason"), v.person, v.now)
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.excusePage(list, starts, problems)
	}
	return v.moveOn("/due", "excused")
}

// nextShown is how many lists the first page says a next time of.
const nextShown = 4

// onFront tells whether a list stands on the first page: that of each shift
// always, another while it is to be done.
func onFront(s checklists.Schedule, status checklists.DueStatus) bool {
	switch status {
	case checklists.IsDone, checklists.NotCalled, checklists.NoShift:
		return s.Every == checklists.EachShift
	}
	return true
}

// nextLines are the lists that are next to be done at a known time.
func nextLines(facts checklists.Facts, names map[procedures.PersonID]string, now time.Time) []dueLine {
	var lines []dueLine
	for _, c := range facts.Upcoming(now) {
		if !c.Now && !c.Unknown && len(lines) < nextShown {
			lines = append(lines, dueLine{Title: c.Title, Said: c.Said, Who: expected(c.People, c.Role, names)})
		}
	}
	return lines
}
