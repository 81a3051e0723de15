package checklists

import (
	"slices"
	"strings"
	"time"
	"unicode"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Call is somebody to telephone.
type Call struct {
	Who    string `json:"who"`
	Number string `json:"number"` // as it is dialled at the mill
}

// Dial is the number as a telephone takes it: digits, and a plus sign before them.
func (c Call) Dial() string {
	return strings.Map(func(r rune) rune {
		if r == '+' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, c.Number)
}

// String is the line it is typed as.
func (c Call) String() string { return c.Who + ": " + c.Number }

// ReadCalls reads one call a line, "who: number". Its error is a
// [plain.Problems] of the field.
func ReadCalls(field, typed string) ([]Call, error) {
	var calls []Call
	var bad plain.Problems
	for line := range strings.Lines(typed) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		at := strings.LastIndex(line, ":")
		if at < 0 {
			bad.Unless(false, field, "who and the number with a colon between them, one a line; “%s” has none", line)
			continue
		}
		c := Call{Who: strings.TrimSpace(line[:at]), Number: strings.TrimSpace(line[at+1:])}
		bad.Unless(c.Who != "", field, "who answers before the colon of “%s”", line)
		bad.Unless(strings.ContainsFunc(c.Number, unicode.IsDigit), field, "a number after the colon of “%s”", line)
		calls = append(calls, c)
	}
	return calls, bad.Err()
}

// EmergencyCard is what the mill says of itself to somebody who has to call for
// help there. The zero card says nothing, and misses everything.
type EmergencyCard struct {
	Address       string   `json:"address"`
	FindIt        string   `json:"find_it"`  // coordinates, landmarks, which gate
	Numbers       []Call   `json:"numbers"`  // ambulance, fire brigade, poison centre
	Hospital      string   `json:"hospital"` // the nearest with an emergency room
	FirstAiders   []string `json:"first_aiders"`
	Kit           string   `json:"kit"` // where the first-aid kit is
	Extinguishers string   `json:"extinguishers"`
	Isolators     string   `json:"isolators"` // where the main power is cut
	Fuel          string   `json:"fuel"`      // where fuel and gas are shut off
	Muster        string   `json:"muster"`    // where everybody gathers and is counted
	Meets         string   `json:"meets"`     // who meets the ambulance, and where
	Contacts      []Call   `json:"contacts"`  // the mill's own people to be told

	By procedures.PersonID `json:"by"`
	At time.Time           `json:"at"`
}

// Bounds of a card: it has to stay one page that is read at a glance.
const (
	cardLine  = 200
	cardCalls = 12
)

// CardYear is after how long a card is to be read through again. Common practice,
// no source.
const CardYear = 365 * 24 * time.Hour

// Made tells whether the mill has a card of its own.
func (c EmergencyCard) Made() bool { return !c.At.IsZero() }

// Sign returns the card signed by by at now. It may leave things out, which it
// then says; but one that names neither the place nor a number helps nobody. Its
// error is a [plain.Problems] for the fields "address", "find_it", "numbers",
// "hospital", "first_aiders", "kit", "extinguishers", "isolators", "fuel",
// "muster", "meets" and "contacts", or a [plain.Refusal].
func (c EmergencyCard) Sign(by procedures.Person, now time.Time) (EmergencyCard, error) {
	if !by.Supervises() {
		return EmergencyCard{}, plain.Refuse("", "Only a supervisor or deputy may do this; ask one to sign in.")
	}
	var bad plain.Problems
	bad.Unless(c.Address != "", "address", "where the mill is, as an ambulance is told")
	bad.Unless(len(c.Numbers) > 0, "numbers", "at least the number of the emergency services here")
	for _, f := range c.texts() {
		bad.Unless(len(*f.text) <= cardLine, f.field, "in fewer words: it is read in a hurry")
	}
	bad.Unless(len(c.FirstAiders) <= cardCalls, "first_aiders", "at most %d names", cardCalls)
	for _, name := range c.FirstAiders {
		bad.Unless(len(name) <= cardLine, "first_aiders", "in fewer words: it is read in a hurry")
	}
	for field, calls := range map[string][]Call{"numbers": c.Numbers, "contacts": c.Contacts} {
		bad.Unless(len(calls) <= cardCalls, field, "at most %d numbers: nobody reads more in a hurry", cardCalls)
		for _, one := range calls {
			bad.Unless(one.Who != "" && one.Dial() != "" && len(one.Who)+len(one.Number) <= cardLine, field, "who answers and the number, in few words")
		}
	}
	if err := bad.Err(); err != nil {
		return EmergencyCard{}, err
	}
	c.By, c.At = by.ID, now
	return c, nil
}

type cardText struct {
	field string
	text  *string
}

// texts are the single texts of c by the fields of its form.
func (c *EmergencyCard) texts() []cardText {
	return []cardText{{"address", &c.Address}, {"find_it", &c.FindIt}, {"hospital", &c.Hospital}, {"kit", &c.Kit}, {"extinguishers", &c.Extinguishers},
		{"isolators", &c.Isolators}, {"fuel", &c.Fuel}, {"muster", &c.Muster}, {"meets", &c.Meets}}
}

// Missing says what the card does not tell, the gravest first.
func (c EmergencyCard) Missing() []plain.Sentence {
	var all []plain.Sentence
	for _, one := range []struct {
		told bool
		said plain.Sentence
	}{
		{len(c.Numbers) > 0, plain.Say("the emergency numbers that are right here")},
		{c.Address != "", plain.Say("the address")},
		{c.FindIt != "", plain.Say("how to find the mill: coordinates, landmarks, which gate")},
		{c.Hospital != "", plain.Say("the nearest hospital")},
		{len(c.FirstAiders) > 0, plain.Say("who is trained in first aid (29 CFR 1910.151(b))")},
		{c.Kit != "", plain.Say("where the first-aid kit is")},
		{c.Extinguishers != "", plain.Say("where the extinguishers are")},
		{c.Isolators != "", plain.Say("where the main power is cut")},
		{c.Fuel != "", plain.Say("where fuel or gas is shut off")},
		{c.Muster != "", plain.Say("where everybody gathers")},
		{c.Meets != "", plain.Say("who meets the ambulance")},
		{len(c.Contacts) > 0, plain.Say("whom of the mill to tell")},
	} {
		if !one.told {
			all = append(all, one.said)
		}
	}
	return all
}

// Old tells whether the card is to be read through again: a year is over.
func (c EmergencyCard) Old(now time.Time) bool { return c.Made() && !now.Before(c.At.Add(CardYear)) }

// WithoutTexts is the card with nothing that somebody wrote, and those texts in an
// order that [EmergencyCard.WithTexts] knows: they may name people and where they
// live.
func (c EmergencyCard) WithoutTexts() (EmergencyCard, []string) {
	bare := c.cloned()
	var texts []string
	for _, slot := range bare.slots() {
		texts = append(texts, *slot)
		*slot = ""
	}
	return bare, texts
}

// WithTexts puts texts back that WithoutTexts took out; what is not kept any more
// stays empty.
func (c EmergencyCard) WithTexts(texts []string) EmergencyCard {
	whole := c.cloned()
	for i, slot := range whole.slots() {
		if i < len(texts) {
			*slot = texts[i]
		}
	}
	return whole
}

func (c EmergencyCard) cloned() EmergencyCard {
	c.Numbers, c.Contacts, c.FirstAiders = slices.Clone(c.Numbers), slices.Clone(c.Contacts), slices.Clone(c.FirstAiders)
	return c
}

// slots are the places of everything somebody wrote.
func (c *EmergencyCard) slots() []*string {
	var all []*string
	for _, f := range c.texts() {
		all = append(all, f.text)
	}
	for i := range c.FirstAiders {
		all = append(all, &c.FirstAiders[i])
	}
	for _, calls := range [][]Call{c.Numbers, c.Contacts} {
		for i := range calls {
			all = append(all, &calls[i].Who, &calls[i].Number)
		}
	}
	return all
}
