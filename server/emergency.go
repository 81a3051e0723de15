package server

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) emergencyRoutes() {
	s.get("/help/emergency", anyone, s.emergency)
	s.get("/help/emergency/card", anyone, s.emergencyAlone)
	s.get("/help/emergency/file", anyone, s.emergencyFile)
	s.get("/help/emergency/pdf", anyone, s.emergencyPDF)
	s.get("/help/emergency/edit", supervisors, s.showEmergencyEdit)
	s.post("/help/emergency/edit", supervisors, s.signEmergency)
}

// emergencyPage is the mill's card with what to do first. Anybody may read it.
type emergencyPage struct {
	*views.Frame
	Card   checklists.EmergencyCard
	Facts  []fact // what the card tells beside the numbers
	Lacks  []string
	Signer string
	Edit   bool
	Old    bool
}

func (v *visit) emergencyCard() (*emergencyPage, error) {
	card, err := v.desk.EmergencyCard(v.ctx())
	if err != nil {
		return nil, err
	}
	names, err := v.names()
	if err != nil {
		return nil, err
	}
	page := &emergencyPage{Frame: v.frame("Emergency"), Card: card, Signer: names[card.By], Edit: v.person.Supervises(), Old: card.Old(v.now)}
	if len(card.Numbers) > 0 {
		page.Title = plain.Say("Emergency: call %s", card.Numbers[0].Number)
	}
	page.Facts = page.told()
	for _, lack := range card.Missing() {
		page.Lacks = append(page.Lacks, page.Say(lack))
	}
	return page, nil
}

// told is what the card says, in the order it is asked in.
func (p *emergencyPage) told() []fact {
	var all []fact
	for _, one := range []fact{
		{p.T("Where we are"), p.Card.Address}, {p.T("How to find us"), p.Card.FindIt}, {p.T("Who meets the ambulance"), p.Card.Meets}, {p.T("Nearest hospital"), p.Card.Hospital},
		{p.T("Trained in first aid"), strings.Join(p.Card.FirstAiders, ", ")}, {p.T("First-aid kit"), p.Card.Kit}, {p.T("Extinguishers"), p.Card.Extinguishers},
		{p.T("Main power is cut at"), p.Card.Isolators}, {p.T("Fuel or gas is shut off at"), p.Card.Fuel}, {p.T("Everybody gathers at"), p.Card.Muster},
	} {
		if one.Value != "" {
			all = append(all, one)
		}
	}
	return all
}

// First is the first thing to be read, with and without a card.
func (p *emergencyPage) First() views.Caution {
	if p.Card.Made() {
		return p.Danger(p.T("Call first, then help. Say the mill's name, how to reach it, what happened and how many are hurt; hang up last. What the person on the telephone says comes before this page."))
	}
	return p.Danger(p.T("Call first, then help. In the United States and Canada the number is 911, in most of Europe 112. Say the mill's name and how to reach it."))
}

// Signed says who stands for the card and since when.
func (p *emergencyPage) Signed() string {
	return p.T("Signed by %[1]s, %[2]s. It is what the mill wrote: in doubt the local emergency services come first.", p.Signer, p.Day(p.Card.At))
}

// emergencyAct is what to do first in one kind of trouble, as commonly taught.
type emergencyAct struct {
	Name   string
	Steps  []string
	Source string
}

// Acts are the first things to do, the gravest trouble first.
func (p *emergencyPage) Acts() []emergencyAct {
	return []emergencyAct{
		{p.T("Somebody caught in a machine"), []string{
			p.T("Press the nearest stop. Switch off at the isolator and stand by it."),
			p.T("Call for help. Do not turn the saw or move the carriage by hand to free them: one turns the other."),
			p.T("Wait until the saw stands still before anyone reaches in. It coasts."),
			p.T("Keep a cant or a raised load from moving: block it before anything else is touched.")}, ""},
		{p.T("Heavy bleeding"), []string{
			p.T("Press hard on the wound with the cleanest cloth at hand. Do not stop pressing."),
			p.T("If it does not stop and it is an arm or a leg: a tourniquet above the wound, tight, and note the time."),
			p.T("A finger or hand cut off: wrap it, keep it dry and cool, never in direct ice, and send it along.")},
			p.T("First aid as commonly taught (from memory). What a trained first-aider or the person on the telephone says comes first.")},
		{p.T("Load hung up, power gone"), []string{
			p.T("Everybody out from under and beside it. Rope the place off."),
			p.T("Switch the hoist off at its isolator, so that it does not move when power comes back."),
			p.T("Only somebody qualified, by the maker's way, lowers it. Never loosen the brake by guess.")}, ""},
		{p.T("Smoke or smouldering in the dust bin"), []string{
			p.T("Stop the fan. Do not open the bin or the collector: air makes it flash."),
			p.T("Everybody out, call the fire brigade, tell them it is wood dust."),
			p.T("Do not throw burning dust into the air, with water jet or shovel.")},
			p.T("Common practice, no source. Local fire orders come first.")},
	}
}

func (s *Server) emergency(v *visit) error {
	page, err := v.emergencyCard()
	if err != nil {
		return err
	}
	return v.show("emergency", page, nil)
}

// emergencyAlone is the card as one page that asks nothing of any server and is
// the same, byte for byte, until the card is signed anew: it knows no "today".
func (v *visit) emergencyAlone() (*emergencyPage, error) {
	page, err := v.emergencyCard()
	if err != nil {
		return nil, err
	}
	f := page.Frame
	f.Alone, f.Person, f.Places, f.StopIt, f.Heed, f.Now, f.Flash = true, procedures.Person{}, nil, "", nil, time.Time{}, plain.Sentence{}
	page.Edit = false
	return page, nil
}

// cardKept is how long a phone may show the card without asking, and how long
// when this computer can't be reached.
const cardKept = "private, max-age=600, stale-if-error=31536000"

// emergencyAlone is the card on one page with its style inside, for a phone to
// keep. The content policy allows that one style by its hash.
func (s *Server) emergencyAlone(v *visit) error {
	page, err := v.emergencyAlone()
	if err != nil {
		return err
	}
	if err := v.show("emergency-file", page, nil); err != nil {
		return err
	}
	body := v.Response().Body()
	sum := sha256.Sum256(body)
	tag := `W/"` + hex.EncodeToString(sum[:16]) + `"` // weak: the same in every encoding
	v.Set(fiber.HeaderETag, tag)
	v.Set(fiber.HeaderCacheControl, cardKept)
	v.Set("Content-Security-Policy", policyWithStyle(string(body)))
	if v.Get(fiber.HeaderIfNoneMatch) == tag {
		v.Response().ResetBody()
		v.Status(fiber.StatusNotModified)
	}
	return nil
}

// policyWithStyle is the content policy with the style inside a page of ours.
func policyWithStyle(page string) string {
	_, after, _ := strings.Cut(page, "<style>")
	style, _, _ := strings.Cut(after, "</style>")
	sum := sha256.Sum256([]byte(style))
	return strings.Replace(contentPolicy, "style-src 'self'", "style-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'", 1)
}

func (s *Server) emergencyFile(v *visit) error {
	page, err := v.emergencyAlone()
	if err != nil {
		return err
	}
	v.Attachment("emergency.html")
	return v.show("emergency-file", page, nil)
}

type emergencyEditPage struct {
	*views.Frame
	Submission, Seen string
	Fields           []views.Field
}

func (s *Server) showEmergencyEdit(v *visit) error {
	card, err := v.desk.EmergencyCard(v.ctx())
	if err != nil {
		return err
	}
	typed := map[string]string{"numbers": callLines(card.Numbers), "contacts": callLines(card.Contacts), "first_aiders": strings.Join(card.FirstAiders, "\n")}
	for field, text := range cardFields(&card) {
		typed[field] = *text
	}
	return v.emergencyEditPage(typed, store.NewID(), store.Mark(card), nil)
}

func callLines(calls []checklists.Call) string {
	lines := make([]string, len(calls))
	for i, c := range calls {
		lines[i] = c.String()
	}
	return strings.Join(lines, "\n")
}

// cardFields are the single texts of a card by the fields of its form.
func cardFields(c *checklists.EmergencyCard) map[string]*string {
	return map[string]*string{"address": &c.Address, "find_it": &c.FindIt, "hospital": &c.Hospital, "kit": &c.Kit, "extinguishers": &c.Extinguishers,
		"isolators": &c.Isolators, "fuel": &c.Fuel, "muster": &c.Muster, "meets": &c.Meets}
}

func (v *visit) emergencyEditPage(typed map[string]string, submission, seen string, problems plain.Problems) error {
	page := emergencyEditPage{Frame: v.frame("The mill's emergency card"), Submission: submission, Seen: seen}
	page.Problems = problems
	area := func(name, label, hint string) {
		page.Fields = append(page.Fields, page.AreaField(name, label, typed[name]).WithHint(hint))
	}
	line := func(name, label, hint string) {
		page.Fields = append(page.Fields, page.TextField(name, label, typed[name]).WithHint(hint))
	}
	area("numbers", page.T("Emergency numbers"), page.T("One a line, who and number with a colon between: “Ambulance, fire brigade: 911”. The first stands largest. Try them from the mill: not every telephone reaches every number."))
	line("address", page.T("Where the mill is"), page.T("As an ambulance is told: road and number, town, county."))
	line("find_it", page.T("How to find it"), page.T("Coordinates, landmarks, which gate, what a heavy vehicle must not cross."))
	line("meets", page.T("Who meets the ambulance, and where"), "")
	line("hospital", page.T("Nearest hospital with an emergency room"), page.T("Name, town, minutes by road."))
	area("first_aiders", page.T("Who is trained in first aid"), page.T("One name a line. Where no clinic is near, somebody trained has to be at hand (29 CFR 1910.151(b))."))
	line("kit", page.T("Where the first-aid kit is"), "")
	line("extinguishers", page.T("Where the extinguishers are"), "")
	line("isolators", page.T("Where the main power is cut"), "")
	line("fuel", page.T("Where fuel or gas is shut off"), page.T("“None” where there is none."))
	line("muster", page.T("Where everybody gathers and is counted"), "")
	area("contacts", page.T("Whom of the mill to tell"), page.T("One a line, who and number with a colon between. The card is read without signing in: enter no number that is not to be seen."))
	return v.show("emergency-edit", page, problems)
}

func (s *Server) signEmergency(v *visit) error {
	typed := map[string]string{"numbers": v.typed("numbers"), "contacts": v.typed("contacts"), "first_aiders": v.typed("first_aiders")}
	var card checklists.EmergencyCard
	for field, text := range cardFields(&card) {
		*text = v.typed(field)
		typed[field] = *text
	}
	var problems plain.Problems
	var err error
	card.Numbers, err = checklists.ReadCalls("numbers", typed["numbers"])
	problems.Add("", err)
	card.Contacts, err = checklists.ReadCalls("contacts", typed["contacts"])
	problems.Add("", err)
	for name := range strings.Lines(typed["first_aiders"]) {
		card.FirstAiders = append(card.FirstAiders, strings.TrimSpace(name))
	}
	card.FirstAiders = slices.DeleteFunc(card.FirstAiders, func(name string) bool { return name == "" })
	if problems, err = v.signedToo(problems); err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.SignEmergencyCard(v.ctx(), v.submission(), v.since(), card, v.person, v.now)
		if err == nil {
			return v.moveOn("/help/emergency", "emergency")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	stored, err := v.desk.EmergencyCard(v.ctx())
	if err != nil {
		return err
	}
	return v.again(problems, stands{store.KindEmergencyCard, "", store.Mark(stored), func() error { return s.showEmergencyEdit(v) }},
		func() error { return v.emergencyEditPage(typed, v.submission(), v.typed("seen"), problems) })
}
