package server

import (
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) roleRoutes() {
	s.get("/people/roles", signedIn, s.showRoles)
	s.post("/people/roles", supervisors, s.sayMinors)
}

// admits tells whether somebody may come to a route that is for who.
func (who may) admits(p procedures.Person) bool {
	switch who {
	case anyone:
		return true
	case crew:
		return p.Works()
	case supervisors:
		return p.Supervises()
	}
	return p.ID != ""
}

// deed is something people do here, at which addresses, and who may.
type deed struct {
	What plain.Sentence
	May  may
	More plain.Sentence // what the rules ask besides
	At   []string       // beginnings of the addresses that are sent to; a parameter is ":id"
}

// deeds is the table of what each role may do. Every address that takes
// something in stands in one row, by the longest beginning that fits.
func deeds() []deed {
	none := plain.Sentence{}
	return []deed{
		{plain.Say("Stop a machine, sign in and out"), anyone, none, []string{"/stop-it", "/sign-in", "/sign-out"}},
		{plain.Say("Choose language, units, colours and size of print for oneself"), anyone, plain.Say("Signed in: for that person on every phone. Otherwise: for that phone."), []string{"/settings"}},
		{plain.Say("Enter what happened against the rules, and incidents"), signedIn, none, []string{"/departures/new", "/incidents/new"}},
		{plain.Say("Check the whole record, export it, change one's own PIN or password, sign oneself out elsewhere"), signedIn, plain.Say("An export has names and notes in it unless they are kept back."), []string{"/verify", "/people/me"}},
		{plain.Say("Go through lists and sign them, turn a machine for checking"), crew, none, []string{"/inspections"}},
		{plain.Say("Report what calls for a check"), crew, none, []string{"/due/happened"}},
		{plain.Say("See to defects: say what is wrong, report mending, return to service"), crew, plain.Say("Mended by one, returned by another. A hoist is returned by somebody qualified for lifting gear."), []string{"/defects", "/incidents/:id/actions/:action"}},
		{plain.Say("Put off the day of a defect, say what follows from an incident, close it"), supervisors, none, []string{"/defects/:id/date", "/incidents"}},
		{plain.Say("Close what happened against the rules, with a reason"), supervisors, none, []string{"/departures"}},
		{plain.Say("Check lifts, weigh, report a shock load"), crew, none, []string{"/lifts"}},
		{plain.Say("Sign for lighter wood"), supervisors, none, []string{"/lifts/weighed"}},
		{plain.Say("Begin, join and end lockouts"), crew, plain.Say("Recorded as authorized and trained by the procedure. Voltage is tested by somebody qualified for it."), []string{"/lockouts"}},
		{plain.Say("Take one's own lock off, be told of it, leave a lockout"), signedIn, plain.Say("Whoever else acts in a lockout is authorized for it."), []string{"/lockouts/:id/:act"}},
		{plain.Say("Inspect procedures, see to what was found"), crew, plain.Say("Authorized by the same procedure; without an inspector of the mill's own, a supervisor enters it."), []string{"/procedures/:id/inspections", "/procedure-inspections"}},
		{plain.Say("Inspect and measure lifting gear"), crew, plain.Say("More than the look before a shift: qualified for lifting gear."), []string{"/gear"}},
		{plain.Say("Enter how long a machine coasts"), crew, plain.Say("Authorized to lock out."), []string{"/equipment/:id/coast"}},
		{plain.Say("Enter one's own locks"), crew, plain.Say("Locks of others: a supervisor."), []string{"/locks"}},
		{plain.Say("Enter saws and what was done with them, and looks at safety equipment"), crew, plain.Say("A saw back from the sawsmith: a supervisor."), []string{"/blades", "/safety"}},
		{plain.Say("Change what stands of saws and safety equipment"), supervisors, none, []string{"/blades/:id/edit", "/safety/new", "/safety/:id/edit"}},
		{plain.Say("Write and publish lists, procedures and rigs; excuse a check that was not done"), supervisors, plain.Say("What stands on lifting gear: somebody qualified for it as well."), []string{"/lists", "/procedures", "/rigs", "/published", "/due"}},
		{plain.Say("Keep the mill, its equipment, its jobs, its clock"), supervisors, none, []string{"/mill", "/equipment", "/tasks", "/clock"}},
		{plain.Say("Sign the emergency card"), supervisors, none, []string{"/help/emergency"}},
		{plain.Say("Ask for reminders by mail, or read them as a calendar"), crew, none, []string{"/reminders", "/calendar"}},
		{plain.Say("Replace the key that signs the record"), supervisors, none, []string{"/verify/key"}},
		{plain.Say("Set how long things are kept, hold them, drop them for good"), supervisors, plain.Say("A deputy only sets holds; times, lifting and dropping: a supervisor."), []string{"/retention"}},
		{plain.Say("Make tokens for programs, and take them back"), supervisors, plain.Say("A supervisor and no deputy."), []string{"/mill/tokens"}},
		{plain.Say("Set up who keeps checkpoints of the record elsewhere, be a witness for other mills, close alarms"), supervisors, none, []string{"/witnesses"}},
		{plain.Say("Set up where backups go, and make one now"), supervisors, none, []string{"/backups"}},
		{plain.Say("Have a checkpoint of another mill signed"), anyone, plain.Say("By a program of that mill, with a key a supervisor entered here."), []string{"/witness"}},
		{plain.Say("Keep the lockout program, firms from outside and training"), supervisors, plain.Say("The program, and training to lock out: a supervisor and no deputy."), []string{"/program", "/contractors", "/training"}},
		{plain.Say("Keep people, and who may do what"), supervisors, plain.Say("Roles, deputies, who is authorized or qualified, PINs of others: a supervisor and no deputy."), []string{"/people"}},
	}
}

// deedAt is the row an address falls under.
func deedAt(all []deed, path string) (deed, bool) {
	best, found := deed{}, -1
	for _, d := range all {
		for _, at := range d.At {
			if (path == at || strings.HasPrefix(path, at+"/")) && len(at) > found {
				best, found = d, len(at)
			}
		}
	}
	return best, found >= 0
}

type rolesPage struct {
	*views.Frame
	Deeds      []deedLine
	Minors     []plain.Sentence // what the law lets people under 18 do
	Settled    bool
	Allowed    bool
	Sign       bool // the visitor may say what the law lets people under 18 do
	Submission string
	Basis      plain.Sentence
}

// deedLine is one row as the page shows it.
type deedLine struct {
	What, More                           plain.Sentence
	Operator, Deputy, Supervisor, Reader bool
	Visitor                              bool // also somebody not signed in
}

func (s *Server) showRoles(v *visit) error { return v.rolesPage(store.NewID(), nil) }

func (v *visit) rolesPage(submission string, problems plain.Problems) error {
	program, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	rule := v.mill.MinorRule(program)
	page := rolesPage{Frame: v.frame("Roles, and what each may do"), Submission: submission, Settled: rule.Settled(), Allowed: !rule.Bars(), Basis: v.law(program).Basis(),
		Sign: v.person.Role == procedures.Supervisor && !rule.Settled()}
	page.Problems = problems
	for _, d := range deeds() {
		as := func(role procedures.Role, deputy bool) bool {
			return d.May.admits(procedures.Person{ID: "one", Role: role, Deputy: deputy})
		}
		page.Deeds = append(page.Deeds, deedLine{What: d.What, More: d.More, Operator: as(procedures.Operator, false), Deputy: as(procedures.Operator, true), Supervisor: as(procedures.Supervisor, false),
			Reader: as(procedures.Reader, false), Visitor: d.May == anyone})
	}
	for _, kind := range []procedures.EquipmentKind{procedures.Site, procedures.HeadSaw, procedures.Hoist} {
		if clause := rule.Clause(kind); clause != "" {
			page.Minors = append(page.Minors, plain.Say("%s", clause))
		}
	}
	return v.show("roles", page, problems)
}

// sayMinors keeps what a supervisor signs of the law on people under 18.
func (s *Server) sayMinors(v *visit) error {
	problems, err := v.signedToo(nil)
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.AllowMinors(v.ctx(), v.submission(), v.typed("allowed") == "yes", v.person, v.now)
		if err == nil {
			return v.moveOn("/people/roles", "minors")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.rolesPage(v.submission(), problems)
}
