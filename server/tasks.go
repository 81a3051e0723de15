package server

import (
	"net/url"
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/starters"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) taskRoutes() {
	s.get("/tasks", signedIn, s.showTasks)
	s.post("/tasks", supervisors, s.enterStarterTasks)
	s.get("/tasks/new", supervisors, s.showNewTask)
	s.post("/tasks/new", supervisors, s.keepTask)
	s.get("/tasks/:id", signedIn, s.showTask)
	s.post("/tasks/:id", supervisors, s.keepTask)
	s.post("/tasks/:id/remove", supervisors, s.removeTask)
}

type tasksPage struct {
	*views.Frame
	Submission string
	Pieces     []tasksAt
	Starters   int // that the mill has none of
	Cautions   []plain.Sentence
}

// tasksAt is what is done at one piece of equipment.
type tasksAt struct {
	Name  string
	Tasks []taskLine
}

// taskLine is one task as a page shows it.
type taskLine struct {
	ID, Title string
	Also      []string // at which equipment besides

	Kind      plain.Sentence // what it counts as now
	Lockout   bool           // it counts as servicing
	Why       plain.Sentence // why it counts as more than it is said to be
	Again     time.Time      // until when minor servicing is to be looked at again
	By        string         // who answers for it being less than servicing
	Reviewed  time.Time
	Measure   string
	Note      string
	Procedure string // title
	Begin     string // address at which its lockout begins
}

func (s *Server) showTasks(v *visit) error { return v.tasksPage(nil) }

func (v *visit) tasksPage(problems plain.Problems) error {
	all, err := v.desk.Tasks(v.ctx())
	if err != nil {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	about, err := v.taskNames()
	if err != nil {
		return err
	}
	page := tasksPage{Submission: store.NewID(), Cautions: procedures.Cautions()}
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	again := 0
	for _, t := range all {
		if t.Treated(v.now) != t.Kind {
			again++
		}
	}
	switch {
	case len(all) == 0:
		page.Frame = v.frame("Tasks: none entered yet, so every job is servicing and needs a lockout")
	case again > 0:
		page.Frame = v.frame("Tasks: %[1]d; servicing until a supervisor looks at them: %[2]d", len(all), again)
	default:
		page.Frame = v.frame("Tasks: %d, each looked at within the year", len(all))
	}
	page.Problems = problems
	for _, e := range plant {
		at := tasksAt{Name: e.Name}
		for _, t := range all {
			if firstOf(plant, t) == e.ID {
				line := about.line(t, v.now, v.person)
				for _, id := range t.Equipment {
					if id != e.ID {
						line.Also = append(line.Also, nameIn(plant, id))
					}
				}
				at.Tasks = append(at.Tasks, line)
			}
		}
		if len(at.Tasks) > 0 {
			page.Pieces = append(page.Pieces, at)
		}
	}
	if v.person.Supervises() {
		page.Starters = len(missingStarters(all, procedures.StarterTasks(plant, v.mill.SetUp.Answers())))
	}
	return v.show("tasks", page, problems)
}

// firstOf is the piece of equipment under which a task is listed, once: the first
// it is done at in the plant's order.
func firstOf(plant procedures.Plant, t procedures.Task) procedures.EquipmentID {
	for _, e := range plant {
		if slices.Contains(t.Equipment, e.ID) {
			return e.ID
		}
	}
	return ""
}

// missingStarters are the starters that are not among the tasks of the mill.
func missingStarters(all, starters []procedures.Task) []procedures.Task {
	return slices.DeleteFunc(starters, func(s procedures.Task) bool {
		return slices.ContainsFunc(all, func(t procedures.Task) bool { return t.ID == s.ID })
	})
}

func (s *Server) enterStarterTasks(v *visit) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		words, err := starters.In(v.words.Lang())
		if err != nil {
			return err
		}
		err = v.desk.EnterStarterTasks(v.ctx(), v.submission(), words.Tasks(procedures.StarterTasks(plant, v.mill.SetUp.Answers())), v.person, v.now)
		if err == nil {
			return v.moveOn("/tasks", "tasks")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.tasksPage(problems)
}

// taskNames is what the words of a task are made from.
type taskNames struct {
	people  map[procedures.PersonID]string
	written []procedures.Procedure
}

func (v *visit) taskNames() (about taskNames, err error) {
	if about.people, err = v.names(); err != nil {
		return about, err
	}
	about.written, err = v.desk.ProceduresInForce(v.ctx())
	return about, err
}

func (n taskNames) line(t procedures.Task, now time.Time, who procedures.Person) taskLine {
	counts := t.Treated(now)
	line := taskLine{ID: string(t.ID), Title: t.Title, Kind: counts.Words(), Lockout: counts == procedures.Servicing, Measure: t.Measure, Note: t.Note}
	if t.By != "" {
		line.By, line.Reviewed = n.people[t.By], t.Reviewed
	}
	switch {
	case counts == t.Kind:
	case t.By == "":
		line.Why = plain.Say("Said to be %s. No supervisor answers for that yet, so it is servicing and needs a lockout.", t.Kind.Words())
	default:
		line.Why = plain.Say("Said to be %[1]s on %[2]s. That is more than a year ago, so it is servicing and needs a lockout until a supervisor looks at it again.", t.Kind.Words(), t.Reviewed)
	}
	if counts == procedures.MinorServicing {
		line.Again = t.ReviewOver()
	}
	for _, p := range n.written {
		if p.ID == t.Procedure {
			line.Procedure = p.Title
			if line.Lockout && who.Works() {
				line.Begin = "/lockouts/new?" + url.Values{"procedure": {string(p.ID)}, "task": {t.Title}}.Encode()
			}
		}
	}
	return line
}
