package server

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func dueOperations() []operation {
	return []operation{
		reads("listDue", "/due", "/due", "How each list in force stands now, and what was missed", listDueForAPI),
		reads("listUpcoming", "/upcoming", "/due", "When each list is next to be done", listUpcoming),
		reads("listEvents", "/events", "/due", "What was reported that calls for a check, newest first", func(c *call) (items[apiEvent], error) {
			limit, err := c.limit()
			if err != nil {
				return items[apiEvent]{}, err
			}
			events, err := c.desk.Events(c.ctx(), limit)
			return itemsOf(events, func(e checklists.Event) apiEvent {
				return apiEvent{e.ID, string(e.Kind), e.Equipment, e.Happened, e.Note, e.By, e.At}
			}), err
		}, limitParameter()),
		writes("reportEvent", fiber.MethodPost, "/events", "/due/happened", "Report that something happened which calls for a check", reportEventForAPI),
		writes("excuseMiss", fiber.MethodPost, "/excuses", "/due/excuse", "Give the reason why a list was not done in its time", excuseMissForAPI),
	}
}

type apiDue struct {
	List   checklists.ListID       `json:"list"`
	Title  string                  `json:"title"`
	Status string                  `json:"status" says:"empty: not known, which holds as much as due" oneof:"|done|due|late|missed|excused|no-shift|not-called"`
	Said   string                  `json:"said"`
	Shift  string                  `json:"shift,omitzero"`
	Opens  time.Time               `json:"opens,omitzero" says:"from here an inspection counts"`
	Starts time.Time               `json:"starts,omitzero" says:"of the shift or period; an excuse names it by this"`
	Ends   time.Time               `json:"ends,omitzero"`
	Done   checklists.InspectionID `json:"done,omitzero" says:"the inspection that did it"`
	Excuse string                  `json:"excuse,omitzero" says:"the reason given"`
	People []procedures.PersonID   `json:"people,omitzero" says:"who is expected; none: anyone of the role"`
	Role   string                  `json:"role,omitzero"`
}

func dueForAPI(l checklists.List, state checklists.DueState) apiDue {
	out := apiDue{List: l.ID, Title: l.Title, Status: string(state.Status), Said: state.Said.String(), Shift: state.Shift, Opens: state.Opens, Starts: state.Starts, Ends: state.Ends}
	if state.Done != nil {
		out.Done = state.Done.ID
	}
	if state.Excuse != nil {
		out.Excuse = state.Excuse.Reason
	}
	people, role := state.Expected(l)
	out.People, out.Role = people, string(role)
	return out
}

type apiDues struct {
	Items  []apiDue `json:"items"`
	Missed []apiDue `json:"missed" says:"shifts and periods that ended without it, some days back"`
}

func listDueForAPI(c *call) (apiDues, error) {
	facts, err := c.desk.Facts(c.ctx(), c.now)
	out := apiDues{Items: []apiDue{}, Missed: []apiDue{}}
	for _, l := range facts.Lists {
		out.Items = append(out.Items, dueForAPI(l, facts.Due(l, c.now)))
		for _, state := range facts.Missed(l, c.now) {
			out.Missed = append(out.Missed, dueForAPI(l, state))
		}
	}
	return out, err
}

type apiComing struct {
	List    checklists.ListID     `json:"list"`
	Title   string                `json:"title"`
	Now     bool                  `json:"now" says:"its time has come"`
	Unknown bool                  `json:"unknown" says:"it is not known when: by running hours, or on event"`
	Said    string                `json:"said"`
	Shift   string                `json:"shift,omitzero"`
	Opens   time.Time             `json:"opens,omitzero"`
	Ends    time.Time             `json:"ends,omitzero"`
	People  []procedures.PersonID `json:"people,omitzero"`
	Role    string                `json:"role,omitzero"`
}

func listUpcoming(c *call) (items[apiComing], error) {
	facts, err := c.desk.Facts(c.ctx(), c.now)
	if err != nil {
		return items[apiComing]{}, err
	}
	return itemsOf(facts.Upcoming(c.now), func(n checklists.Coming) apiComing {
		return apiComing{n.List, n.Title, n.Now, n.Unknown, n.Said.String(), n.Shift, n.Opens, n.Ends, n.People, string(n.Role)}
	}), nil
}

type apiEvent struct {
	ID        checklists.EventID     `json:"id"`
	Kind      string                 `json:"kind"`
	Equipment procedures.EquipmentID `json:"equipment"`
	Happened  time.Time              `json:"happened"`
	Note      string                 `json:"note"`
	By        procedures.PersonID    `json:"by"`
	At        time.Time              `json:"at"`
}

type apiEventPost struct {
	signature
	Kind      string                 `json:"kind" oneof:"blade-change|filing|jam|repair|move|power-loss"`
	Equipment procedures.EquipmentID `json:"equipment"`
	Happened  time.Time              `json:"happened,omitzero" says:"left out: now"`
	Note      string                 `json:"note,omitzero"`
}

func reportEventForAPI(c *call, b apiEventPost) (apiDone, error) {
	return done("", c.desk.ReportEvent(c.ctx(), c.submission(), checklists.Event{Kind: checklists.EventKind(b.Kind), Equipment: b.Equipment, Happened: b.Happened, Note: b.Note}, c.person, c.now))
}

type apiExcusePost struct {
	signature
	List   checklists.ListID `json:"list"`
	Starts time.Time         `json:"starts" says:"as it stands in what is due or missed"`
	Reason string            `json:"reason"`
}

func excuseMissForAPI(c *call, b apiExcusePost) (apiDone, error) {
	return done("", c.desk.ExcuseMiss(c.ctx(), c.submission(), b.List, b.Starts.UTC(), b.Reason, c.person, c.now))
}
