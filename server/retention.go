package server

import (
	"context"
	"errors"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) retentionRoutes() {
	s.get("/retention", supervisors, s.showRetention)
	s.post("/retention", supervisors, s.setKeepFor)
	s.post("/retention/run", supervisors, s.dropNow)
	s.post("/retention/holds", supervisors, s.setHold)
	s.post("/retention/holds/:id/lift", supervisors, s.liftHold)
	s.get("/retention/drop", supervisors, s.showDrop)
	s.post("/retention/drop", supervisors, s.dropByHand)
}

// dropLasts is how long a drop may take: the tables of a long record are made again.
const dropLasts = 30 * time.Minute

// dueCountedUpTo is how many entries a record may have for the page to count what
// is due; a longer one is counted when asked, since every entry may be gone through.
const dueCountedUpTo = 100_000

type retentionPage struct {
	*views.Frame
	Submission string
	Settles    bool // a supervisor, and no deputy
	Rows       []keepLine
	Uncounted  bool // too long a record to count unasked
	Next       time.Time
	Due        int // values and photos, over all sorts
	Form       keepForm
	Fields     []views.Field
	Hold       []views.Field
	On, Lifted []holdLine
	Dropped    []entryLine
}

// keepLine is one sort of record.
type keepLine struct {
	Rule         checklists.KeepRule
	Policy       *checklists.KeepPolicy
	By           string
	Values, Kept plain.Sentence // for how long
	Least        plain.Sentence // the floor
	DueValues    int
	DuePhotos    int
	DueSaid      plain.Sentence
	Entry        string // address of the entry that set it
}

type keepForm struct{ Sort, Values, Photos, Reason string }

type holdForm struct{ Person, Equipment, Subject, From, Until, Reason string }

type holdLine struct {
	checklists.KeepHold
	About     plain.Sentence
	By, Ended string
	Lift      string // address
}

func (s *Server) showRetention(v *visit) error {
	return v.retentionPage(keepForm{Sort: v.Query("sort")}, holdForm{Subject: v.Query("subject"), Person: v.Query("person"), Equipment: v.Query("equipment")}, store.NewID(), nil)
}

func (v *visit) retentionPage(form keepForm, hold holdForm, submission string, problems plain.Problems) error {
	plant, names, err := v.plantAndNames()
	if err != nil {
		return err
	}
	head, err := v.desk.Head(v.ctx())
	if err != nil {
		return err
	}
	page := retentionPage{Frame: v.frame("What is kept, and for how long"), Submission: submission, Form: form, Settles: v.person.Role == procedures.Supervisor,
		Next: checklists.NextDropRound(v.now, v.zone), Uncounted: head.Size > dueCountedUpTo && v.Query("count") == ""}
	page.Problems = problems
	if page.Rows, err = v.keepLines(names, !page.Uncounted); err != nil {
		return err
	}
	for _, row := range page.Rows {
		page.Due += row.DueValues + row.DuePhotos
	}
	holds, err := v.desk.KeepHolds(v.ctx())
	if err != nil {
		return err
	}
	for _, h := range holds {
		line := holdLine{KeepHold: h, About: teller{names: names, plant: plant}.held(h), By: names[h.By], Ended: names[h.LiftedBy]}
		if !h.On() {
			page.Lifted = append(page.Lifted, line)
			continue
		}
		line.Lift = "/retention/holds/" + string(h.ID) + "/lift"
		page.On = append(page.On, line)
	}
	if n := len(page.On); n > 0 {
		page.Title = plain.Say("What is kept, and for how long: %d holds", n)
	}
	entries, _, err := v.desk.Entries(v.ctx(), store.Filter{Kind: store.KindDropped, Limit: 10})
	if err != nil {
		return err
	}
	t, err := v.teller(entries)
	if err != nil {
		return err
	}
	for _, e := range entries {
		page.Dropped = append(page.Dropped, entryLine{Seq: e.Seq, Entry: "/record/" + strconv.FormatInt(e.Seq, 10), told: t.tell(e)})
	}
	page.fields(form, hold, plant, names)
	return v.show("retention", page, problems)
}

// keepLines are the sorts with their policies and, where counted, what is due.
func (v *visit) keepLines(names map[procedures.PersonID]string, counted bool) ([]keepLine, error) {
	var rows []store.Due
	var err error
	if counted {
		rows, err = v.desk.Due(v.ctx(), v.now)
	} else {
		rows, err = v.desk.KeepPolicies(v.ctx())
	}
	var lines []keepLine
	for _, due := range rows {
		line := keepLine{Rule: due.Rule, Least: keptFor(due.Rule.Floor), Policy: due.Policy, DueValues: due.Values, DuePhotos: due.Photos, DueSaid: goneCount(due.Values, due.Photos)}
		if p := due.Policy; p != nil {
			line.By, line.Values, line.Kept = names[p.By], keptFor(p.Values), keptFor(p.Photos)
			line.Entry = "/record/" + strconv.FormatInt(due.Seq, 10)
		}
		lines = append(lines, line)
	}
	return lines, err
}

// keptFor says for how long.
func keptFor(years int) plain.Sentence {
	switch years {
	case 0:
		return plain.Say("for good")
	case 1:
		return plain.Say("1 year")
	}
	return plain.Say("%d years", years)
}

func (p *retentionPage) fields(form keepForm, hold holdForm, plant procedures.Plant, names map[procedures.PersonID]string) {
	var sorts []views.Choice
	for _, rule := range checklists.KeepRules() {
		sorts = append(sorts, views.Offer(string(rule.Sort), p.Say(rule.Title)))
		if string(rule.Sort) == form.Sort && form.Values == "" {
			form.Values, form.Photos = strconv.Itoa(rule.Usual), strconv.Itoa(rule.Usual)
		}
	}
	p.Fields = []views.Field{
		p.ChoiceField("sort", p.T("Sort of record"), form.Sort, sorts).AsList(),
		p.NumberField("values", p.T("Names and what people wrote: years"), form.Values).WithHint(p.T("Counted from the end of the year in which it was over. 0 keeps it for good.")),
		p.NumberField("photos", p.T("Photos: years"), form.Photos).WithHint(p.T("A photo goes when the time of every entry that names it is over. 0 keeps it for good.")),
		p.AreaField("reason", p.T("Why"), form.Reason),
	}
	people := []views.Choice{{Value: "", Text: p.T("Anybody")}}
	for _, id := range slices.Sorted(maps.Keys(names)) {
		people = append(people, views.Choice{Value: string(id), Text: names[id]})
	}
	slices.SortStableFunc(people[1:], func(a, b views.Choice) int { return strings.Compare(a.Text, b.Text) })
	machines := []views.Choice{{Value: "", Text: p.T("Any machine")}}
	for _, e := range plant {
		machines = append(machines, views.Choice{Value: string(e.ID), Text: e.Name})
	}
	p.Hold = []views.Field{
		p.ChoiceField("person", p.T("About a person"), hold.Person, people).AsList(),
		p.ChoiceField("equipment", p.T("About a machine"), hold.Equipment, machines).AsList(),
		p.TextField("subject", p.T("About one incident, defect or lockout: its id"), hold.Subject).WithHint(p.T("It stands at the end of the address of its page. Left empty: any.")),
		p.DayField("from", p.T("From the day"), hold.From),
		p.DayField("until", p.T("Until the day"), hold.Until),
		p.AreaField("hold_reason", p.T("Why"), hold.Reason),
	}
}

func (s *Server) setKeepFor(v *visit) error {
	form := keepForm{Sort: v.typed("sort"), Values: v.typed("values"), Photos: v.typed("photos"), Reason: v.typed("reason")}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	policy := checklists.KeepPolicy{Sort: checklists.KeepSort(form.Sort), Reason: form.Reason, Values: years(form.Values), Photos: years(form.Photos)}
	if len(problems) == 0 {
		err := v.desk.SetKeepFor(v.ctx(), v.submission(), policy, v.person, v.now)
		if err == nil {
			return v.moveOn("/retention", "keep-for")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.retentionPage(form, holdForm{}, v.submission(), problems)
}

// years reads whole years; what is none is no number the rule takes.
func years(typed string) int {
	n, err := strconv.Atoi(typed)
	if err != nil {
		return -1
	}
	return n
}

func (s *Server) setHold(v *visit) error {
	form := holdForm{Person: v.typed("person"), Equipment: v.typed("equipment"), Subject: v.typed("subject"), From: v.typed("from"), Until: v.typed("until"), Reason: v.typed("hold_reason")}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		hold := checklists.KeepHold{Person: procedures.PersonID(form.Person), Equipment: procedures.EquipmentID(form.Equipment), Subject: form.Subject, From: form.From, Until: form.Until, Reason: form.Reason}
		_, err := v.desk.SetHold(v.ctx(), v.submission(), hold, v.person, v.now)
		if err == nil {
			return v.moveOn("/retention", "hold")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
		for i := range problems { // the form above asks for a reason, too
			if problems[i].Field == "reason" {
				problems[i].Field = "hold_reason"
			}
		}
	}
	return v.retentionPage(keepForm{}, form, v.submission(), problems)
}

func (s *Server) liftHold(v *visit) error {
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.LiftHold(v.ctx(), v.submission(), checklists.KeepHoldID(v.Params("id")), v.typed("reason"), v.person, v.now)
		if err == nil {
			return v.moveOn("/retention", "hold-lifted")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.retentionPage(keepForm{}, holdForm{}, v.submission(), problems)
}

// dropNow starts the night's drop at once.
func (s *Server) dropNow(v *visit) error {
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		ctx, cancel := context.WithTimeout(s.stopping, dropLasts)
		defer cancel()
		_, err := v.desk.DropDue(ctx, v.now)
		if err == nil {
			return v.moveOn("/retention", "drop-run")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.retentionPage(keepForm{}, holdForm{}, v.submission(), problems)
}

// dropEvery is how often it is looked whether the night's drop is to be done.
const dropEvery = 10 * time.Minute

// dropUntilStopped drops what is due, once a night, until the server stops.
func (s *Server) dropUntilStopped() {
	next := time.Time{}
	s.untilStopped(dropEvery, "dropping what is due", func(ctx context.Context) (err error) {
		next, err = s.dropRound(ctx, next)
		return err
	})
}

// dropRound drops what is due once next has come, and says when it is to be done
// again. The first time it only says when.
func (s *Server) dropRound(ctx context.Context, next time.Time) (time.Time, error) {
	mill, err := s.store.TheMill(ctx)
	if errors.Is(err, store.ErrNotFound) {
		return next, nil
	}
	if err != nil {
		return next, err
	}
	now := s.now().UTC()
	zone, err := mill.LocationAt(now)
	if err != nil {
		return next, err
	}
	after := checklists.NextDropRound(now, zone)
	if next.IsZero() || now.Before(next) {
		if next.IsZero() {
			next = after
		}
		return next, nil
	}
	ctx, cancel := context.WithTimeout(ctx, dropLasts)
	defer cancel()
	_, err = s.store.Of(mill.ID).DropDue(ctx, now)
	return after, err
}

// going reads what is to go from a query or a form.
func going(value func(string) string) store.Going {
	g := store.Going{Path: value("path"), Person: procedures.PersonID(value("person")), Photo: value("photo"), Seq: -1}
	if seq, err := strconv.ParseInt(value("seq"), 10, 64); err == nil {
		g.Seq = seq
	}
	return g
}

// dropPath is the address at which that is dropped.
func dropPath(g store.Going) string {
	query := url.Values{}
	switch {
	case g.Photo != "":
		query.Set("photo", g.Photo)
	case g.Person != "":
		query.Set("person", string(g.Person))
	default:
		query.Set("seq", strconv.FormatInt(g.Seq, 10))
		if g.Path != "" {
			query.Set("path", g.Path)
		}
	}
	return "/retention/drop?" + query.Encode()
}
