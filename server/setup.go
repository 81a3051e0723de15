package server

import (
	"crypto/subtle"
	"errors"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/starters"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) setUpRoutes() {
	s.app.Get("/set-up", s.showSetUp)
	s.app.Post("/set-up", s.setUp)
}

type setUpPage struct {
	*views.Frame
	Form  setUpForm
	Zones []views.Choice
	Days  []dayChoice

	Languages *views.Languages
	Shared    bool // one of many mills, whose code stands where it was added
	drafted   []string
}

// setUpForm is what the first supervisor typed.
type setUpForm struct {
	Submission, Code                                            string
	Name, Zone, OtherZone, Units                                string
	Person, Password, Again                                     string
	Law, Drive, Feed, Dogs, Headblocks, EntryPoints             string
	Hoist, Collector, Portable, SingleHanded, IsolatorCutsPower string
	SawDiameter, SpindleSpeed, Setworks, OffBearing             string
	ShiftStart, ShiftEnd                                        string
	Language                                                    string // the starters are drafted in
	Days                                                        []string
}

// DaysWrong is what is wrong with the days of the shift, or "".
func (p setUpPage) DaysWrong() string { return p.Problem("shifts.1.days") }

// LanguageChoices are the languages the starters are in.
func (p setUpPage) LanguageChoices() (all []views.Choice) {
	for _, tag := range p.drafted {
		all = append(all, views.Choice{Value: tag, Text: languageNames()[tag]})
	}
	return all
}

func (p setUpPage) UnitChoices() []views.Choice {
	return []views.Choice{{Value: string(checklists.InchPound), Text: p.T("Inches and pounds")}, {Value: string(checklists.Metric), Text: p.T("Millimetres and kilograms")}}
}

func (p setUpPage) LawChoices() []views.Choice {
	return []views.Choice{{Value: "us-federal", Text: p.T("US federal (OSHA)")}, {Value: "us-state", Text: p.T("A US state's own plan")}, {Value: "canada", Text: p.T("A Canadian province")},
		{Value: "uk", Text: p.T("United Kingdom")}, {Value: "farm", Text: p.T("Farm, or owner without employees")}, {Value: "other", Text: p.T("Another country")}}
}

func (p setUpPage) DriveChoices() []views.Choice {
	return []views.Choice{{Value: "electric", Text: p.T("Electric motor")}, {Value: "engine", Text: p.T("Engine")}, {Value: "tractor-shaft", Text: p.T("Tractor shaft (PTO)")}}
}

func (p setUpPage) FeedChoices() []views.Choice {
	return []views.Choice{{Value: "mandrel", Text: p.T("The saw's mandrel, by belt or friction")}, {Value: "own-motor", Text: p.T("A motor of its own")},
		{Value: "hydraulic", Text: p.T("Hydraulics")}, {Value: "hand", Text: p.T("By hand")}}
}

func (p setUpPage) DogChoices() []views.Choice {
	return []views.Choice{{Value: "hand", Text: p.T("Set by hand")}, {Value: "power", Text: p.T("Air or hydraulic")}}
}

func (p setUpPage) SetworksChoices() []views.Choice {
	return []views.Choice{{Value: "hand", Text: p.T("Set by hand")}, {Value: "powered", Text: p.T("Set by a motor, by air or by oil")}}
}

func (p setUpPage) OffBearingChoices() []views.Choice {
	return []views.Choice{{Value: "none", Text: p.T("By hand, nothing that moves by power")}, {Value: "powered", Text: p.T("Rolls, conveyor, chain or blower by power")}}
}

func (p setUpPage) HoistChoices() []views.Choice {
	return []views.Choice{{Value: "electric", Text: p.T("Electric chain hoist")}, {Value: "hand-chain", Text: p.T("Hand chain hoist")}}
}

func (p setUpPage) CollectorChoices() []views.Choice {
	return []views.Choice{{Value: "none", Text: p.T("None")}, {Value: "cyclone", Text: p.T("Cyclone")}, {Value: "bag-house", Text: p.T("Bag house")}, {Value: "open-bag", Text: p.T("Open bags")}}
}

type dayChoice struct {
	Value, Text string
	Ticked      bool
}

func (s *Server) showSetUp(c *fiber.Ctx) error {
	if s.isSetUp(c) {
		return c.Redirect("/", fiber.StatusSeeOther)
	}
	form := setUpForm{Submission: store.NewID(), Code: c.Query("code"), Units: string(checklists.InchPound), Headblocks: "2", EntryPoints: "2",
		ShiftStart: "07:00", ShiftEnd: "15:30", Days: []string{"1", "2", "3", "4", "5"}, Language: s.wordsFor(c, s.settingsOfPhone(c)).Lang()}
	return s.setUpPage(c, form, nil)
}

func (s *Server) isSetUp(c *fiber.Ctx) bool {
	_, err := s.store.TheMill(c.UserContext())
	return err == nil
}

func (s *Server) setUpPage(c *fiber.Ctx, form setUpForm, problems plain.Problems) error {
	chosen := s.settingsOfPhone(c)
	frame := &views.Frame{Title: plain.Say("Set up your mill"), Words: s.wordsFor(c, chosen), Scheme: chosen.Scheme, Size: chosen.Size, Problems: problems, Naming: true, Path: "/set-up", Encrypt: s.encryptAt(c)}
	page := setUpPage{Frame: frame, Form: form, Shared: s.store.Mill() != "", Languages: s.languages(frame, "/set-up?"+url.Values{"code": {form.Code}}.Encode())}
	var err error
	if page.drafted, err = starters.Languages(); err != nil {
		return err
	}
	for _, zone := range commonZones() {
		page.Zones = append(page.Zones, views.Choice{Value: zone, Text: strings.ReplaceAll(zone, "_", " ")})
	}
	for day := time.Sunday; day <= time.Saturday; day++ {
		value := strconv.Itoa(int(day))
		ticked := false
		for _, chosen := range form.Days {
			ticked = ticked || chosen == value
		}
		page.Days = append(page.Days, dayChoice{Value: value, Text: frame.T(day.String()), Ticked: ticked})
	}
	if len(problems) > 0 {
		c.Status(fiber.StatusUnprocessableEntity)
	}
	c.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	return c.Render("set-up", page)
}

// How often a minute the set-up code may be tried, from one address and from all:
// it has 40 bits.
const (
	codeTriesFrom = 10
	codeTriesAll  = 60
)

// tryCode holds what was typed against the set-up code.
func (s *Server) tryCode(c *fiber.Ctx, typed string) (problems plain.Problems) {
	switch {
	case !s.codeTries.takeUpTo(codeTriesFrom, codeTriesAll, s.addressOf(c), s.now()):
		notice(c, slowedLine, "")
		problems.Unless(false, "code", "too many tries of the set-up code; wait a minute and send it again")
	case s.code == "" || subtle.ConstantTimeCompare([]byte(asCode(typed)), []byte(asCode(s.code))) != 1:
		notice(c, wrongCodeLine, "")
		problems.Unless(false, "code", "the set-up code as it stands at the computer where Stillsaw was started")
	}
	return problems
}

// asCode is the set-up code as it may be written, in small letters and with a blank
// for the dash or nothing.
func asCode(typed string) string {
	return strings.ToUpper(strings.Map(func(r rune) rune {
		if r == '-' || unicode.IsSpace(r) {
			return -1
		}
		return r
	}, typed))
}

func (s *Server) setUp(c *fiber.Ctx) error {
	if s.isSetUp(c) {
		return c.Redirect("/", fiber.StatusSeeOther)
	}
	form := readSetUp(c)
	words := s.wordsFor(c, s.settingsOfPhone(c))
	in := measures{comma: words.Comma()}
	if typed, ok := measuresTyped(c.FormValue(measuresField)); ok {
		in = typed
	}
	if form.Language == "" {
		form.Language = words.Lang()
	}
	mill, problems := form.mill(in)
	mill.ID = s.store.NewMillID()
	problems = append(problems, s.tryCode(c, form.Code)...)
	problems.Unless(form.Person != "" && len(form.Person) <= 80, "person", "your name, as the crew knows it")
	problems = append(problems, CheckSecret(procedures.Supervisor, "password", form.Password, form.Name, form.Person)...)
	problems.Unless(form.Password == form.Again, "again", "the same password once more")
	if len(problems) > 0 {
		return s.setUpPage(c, form, problems)
	}
	digest, err := Hash(form.Password)
	if err != nil {
		return err
	}
	supervisor := procedures.Person{ID: procedures.PersonID(store.NewID()), Name: form.Person, Role: procedures.Supervisor, Authorized: true}
	set, err := starterIn(form.Language, mill, supervisor, digest, s.now().UTC())
	if err != nil {
		return err
	}
	if err := s.store.SetUp(c.UserContext(), set); err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return s.setUpPage(c, form, problems)
	}
	if err := s.store.EnsureKeys(c.UserContext(), s.now().UTC()); err != nil {
		s.log.Error("no key was made to sign the record; it is tried again at the next start", "error", err)
	}
	v, err := s.visit(c)
	if err != nil {
		return err
	}
	if err := v.openSession(supervisor); err != nil {
		return err
	}
	notice(c, signedInLine, "")
	return c.Redirect("/published?"+url.Values{"done": {"set-up"}}.Encode(), fiber.StatusSeeOther)
}

// Starter puts together the first act of a mill: its plant, its supervisor with
// the own training by own word, and the starter lists, procedures and rig that
// follow from its answers, as drafts, in English.
func Starter(mill checklists.Mill, supervisor procedures.Person, digest string, at time.Time) (store.SetUp, error) {
	return starterIn("en", mill, supervisor, digest, at)
}

// starterIn is [Starter] in the language of a tag, which from then on is the mill's
// own text.
func starterIn(language string, mill checklists.Mill, supervisor procedures.Person, digest string, at time.Time) (store.SetUp, error) {
	words, err := starters.In(language)
	if err != nil {
		return store.SetUp{}, err
	}
	english := procedures.StarterPlant(mill.SetUp.Answers())
	answers := mill.SetUp.Answers()
	set := store.SetUp{Mill: mill, Plant: words.Plant(english), Supervisor: supervisor, Digest: digest, At: at}
	var failed error
	add := func(sort store.Sort, id, title string, doc any) {
		draft, err := store.DraftOf(sort, id, title, doc)
		failed = errors.Join(failed, err)
		set.Drafts = append(set.Drafts, draft)
	}
	set.Mill.Shifts = slices.Clone(mill.Shifts)
	for i := range mill.Shifts {
		set.Mill.Shifts[i].Name = words.Text(mill.Shifts[i].Name)
	}
	for _, l := range words.Lists(checklists.StarterLists(mill.SetUp, english)) {
		add(store.Lists, string(l.ID), l.Title, l)
	}
	drafts := procedures.StarterProcedures(english, answers)
	for i := range drafts {
		drafts[i] = words.Procedure(drafts[i])
	}
	for _, p := range drafts {
		add(store.Procedures, string(p.ID), p.Title, p)
	}
	if supervisor.Authorized {
		loc, err := mill.Location()
		if err != nil {
			return set, err
		}
		year, month, day := at.In(loc).Date()
		set.Trained = append(set.Trained, procedures.OwnTraining(supervisor, drafts, time.Date(year, month, day, 0, 0, 0, 0, loc).UTC()))
	}
	set.Tasks = words.Tasks(procedures.StarterTasks(english, answers))
	rig := words.Rig(lift.StarterRig())
	add(store.Rigs, rig.ID, rig.Name, rig)
	return set, failed
}

func readSetUp(c *fiber.Ctx) setUpForm {
	typed := func(field string) string { return strings.TrimSpace(c.FormValue(field)) }
	form := setUpForm{
		Submission: typed("submission"), Code: typed("code"), Name: typed("name"), Zone: typed("zone"), OtherZone: typed("other_zone"), Units: typed("units"),
		Person: typed("person"), Password: c.FormValue("password"), Again: c.FormValue("again"),
		Law: typed("law"), Drive: typed("drive"), Feed: typed("feed"), Dogs: typed("dogs"), Headblocks: typed("headblocks"), EntryPoints: typed("entry_points"),
		Hoist: typed("hoist"), Collector: typed("collector"), Portable: typed("portable"), SingleHanded: typed("single_handed"),
		Language: typed("lists_language"), IsolatorCutsPower: typed("isolator_cuts_power"), SawDiameter: typed("saw_diameter"), SpindleSpeed: typed("spindle_speed"), Setworks: typed("setworks"), OffBearing: typed("off_bearing"), ShiftStart: typed("shift_start"), ShiftEnd: typed("shift_end"),
	}
	for day := 0; day < 7; day++ {
		if typed("day"+strconv.Itoa(day)) == "yes" {
			form.Days = append(form.Days, strconv.Itoa(day))
		}
	}
	return form
}

// mill reads the answers; the rules of what a mill may be are checklists'.
func (f setUpForm) mill(in measures) (checklists.Mill, plain.Problems) {
	var problems plain.Problems
	zone := f.Zone
	if f.OtherZone != "" {
		zone = f.OtherZone
	}
	mill := checklists.Mill{
		Name: f.Name, Zone: zone, Units: checklists.Units(f.Units), SingleHanded: f.SingleHanded == "yes",
		SetUp: checklists.SetUp{Law: f.Law, Drive: f.Drive, Feed: f.Feed, Dogs: f.Dogs, Headblocks: whole(f.Headblocks), EntryPoints: whole(f.EntryPoints),
			Hoist: f.Hoist, Collector: f.Collector, Portable: f.Portable == "yes", IsolatorCutsPower: f.IsolatorCutsPower == "yes",
			Setworks: f.Setworks, OffBearing: f.OffBearing},
	}
	in.units = mill.Units
	read := newReader(in)
	mill.SetUp.SawDiameter = plain.Metres(read.optional("saw_diameter", f.SawDiameter))
	problems = append(problems, read.problems...)
	if f.SpindleSpeed != "" {
		speed, err := checklists.ParseNumber(in.pointed("spindle_speed", f.SpindleSpeed, &problems))
		problems.At("spindle_speed", err)
		mill.SetUp.SpindleSpeed = speed
	}
	shift := checklists.Shift{Name: "Day", Start: minutes(f.ShiftStart), End: minutes(f.ShiftEnd)}
	for _, day := range f.Days {
		shift.Days = append(shift.Days, time.Weekday(whole(day)))
	}
	mill.Shifts = []checklists.Shift{shift}
	problems.Add("", mill.Validate())
	problems.Add("", mill.SetUp.Validate())
	problems.Unless(f.Setworks != "", "setworks", "choose how the setworks are set")
	problems.Unless(f.OffBearing != "", "off_bearing", "choose what takes boards, slabs and sawdust away")
	return mill, renamed(problems, map[string]string{"shifts.1.start": "shift_start", "shifts.1.end": "shift_end"})
}

// renamed gives problems the names their inputs have on this form.
func renamed(problems plain.Problems, names map[string]string) plain.Problems {
	for i := range problems {
		if name, ok := names[problems[i].Field]; ok {
			problems[i].Field = name
		}
	}
	return problems
}

// whole reads a whole number; what isn't one is -1, which no rule accepts.
func whole(text string) int {
	n, err := strconv.Atoi(text)
	if err != nil {
		return -1
	}
	return n
}

// minutes reads "07:30" as minutes after midnight, -1 for anything else.
func minutes(text string) int {
	t, err := time.Parse("15:04", text)
	if err != nil {
		return -1
	}
	return t.Hour()*60 + t.Minute()
}

// commonZones are offered in a list; any other IANA name can be typed.
func commonZones() []string {
	return []string{
		"America/New_York", "America/Chicago", "America/Denver", "America/Phoenix", "America/Los_Angeles", "America/Anchorage", "Pacific/Honolulu",
		"America/Halifax", "America/St_Johns", "America/Toronto", "America/Winnipeg", "America/Regina", "America/Edmonton", "America/Vancouver",
		"America/Mexico_City", "America/Sao_Paulo", "America/Santiago",
		"Europe/London", "Europe/Dublin", "Europe/Paris", "Europe/Berlin", "Europe/Madrid", "Europe/Stockholm", "Europe/Helsinki", "Europe/Warsaw",
		"Africa/Johannesburg", "Asia/Tokyo", "Australia/Perth", "Australia/Brisbane", "Australia/Sydney", "Pacific/Auckland", "UTC",
	}
}
