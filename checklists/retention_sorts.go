package checklists

import "stillsaw/procedures/plain"

// KeepSort is a sort of record that is kept for a time of its own.
type KeepSort string

// The sorts. Entries about the record itself are of none: nothing of them goes.
const (
	KeepChecks    KeepSort = "checks"
	KeepDefects   KeepSort = "defects"
	KeepIncidents KeepSort = "incidents"
	KeepLifts     KeepSort = "lifts"
	KeepGear      KeepSort = "gear"
	KeepLockouts  KeepSort = "lockouts"
	KeepProgram   KeepSort = "program"
	KeepTraining  KeepSort = "training"
	KeepRegisters KeepSort = "registers"
	KeepDocuments KeepSort = "documents"
	KeepPeople    KeepSort = "people"
)

// KeepRule is what the rules say of keeping one sort of record.
type KeepRule struct {
	Sort  KeepSort
	Title plain.Sentence
	Floor int // years; no policy is shorter
	Usual int // years offered on the form; not in force until somebody signs

	// Clause is the published rule behind the floor, "" where it is the program's
	// own. Timed tells whether that rule names the time itself: then it binds a drop
	// by hand, too. Why says more of it.
	Clause string
	Timed  bool
	Why    plain.Sentence
}

// KeepRules lists the sorts with their floors, in the order of the page.
//
// Read: 29 CFR 1904.33(a) (five years following the end of the calendar year);
// 29 CFR 1910.157(e)(3) (one year after the last entry or the life of the shell,
// whichever is less); 29 CFR 1910.184(e)(3)(ii), as adopted in Mich. Admin. Code
// R 408.14923(2) and WAC 296-24-29423(3)(b) (a record of the most recent month).
// From memory: 29 CFR 1910.147(c)(6)(ii) and (c)(7)(iv) ask for certification and
// name no time; 29 CFR 1910.179(j)(2)(iii), (iv) and (m)(1) ask for monthly
// certification records and name no time; 29 CFR 1910.1020(d)(1) asks for 30 years
// for exposure records and medical records, which are not kept here. Where no time
// is named the floor is common practice, no source.
func KeepRules() []KeepRule {
	injuries := "29 CFR 1904.33(a)"
	return []KeepRule{
		{KeepChecks, plain.Say("Checks: inspections, what was amended, run checks, excuses, what happened"), 1, 3, "", false, plain.Say("No law names a time for pre-shift checks; a year is common practice.")},
		{KeepDefects, plain.Say("Defects and what was done about them"), 1, 5, "", false, plain.Say("No law names a time; a year after return to service is common practice.")},
		{KeepIncidents, plain.Say("Incidents, and what happened against the rules"), 5, 10, injuries, true, plain.Say("Injury records are saved for five years after the end of the calendar year they cover.")},
		{KeepLifts, plain.Say("Lifts checked and weighed"), 1, 3, "", false, plain.Say("No law names a time; a year is common practice.")},
		{KeepGear, plain.Say("Lifting gear inspected and measured"), 1, 5, "29 CFR 1910.184(e)(3)(ii), 1910.179(j)(2), (m)(1)", false, plain.Say("A record of the latest inspection of each sling, hook and rope must be there. The newest is never dropped; a year for the others, so that two are there, is common practice.")},
		{KeepLockouts, plain.Say("Lockouts, and locks"), 1, 5, "", false, plain.Say("No law names a time; a year, until the next yearly inspection of the procedure has looked at it, is common practice.")},
		{KeepProgram, plain.Say("Inspections of lockout procedures, the program, jobs, firms, coast times"), 2, 5, "29 CFR 1910.147(c)(6)(ii)", false, plain.Say("The yearly inspection is certified, and the certificate kept until the next at least. The newest is never dropped; two years, so that two are there, is common practice.")},
		{KeepTraining, plain.Say("Training"), 2, 5, "29 CFR 1910.147(c)(7)(iv)", false, plain.Say("Training is certified and kept up to date. That of somebody who works here is never dropped; two years after is common practice.")},
		{KeepRegisters, plain.Say("Saws, and safety equipment looked at"), 1, 3, "29 CFR 1910.157(e)(3)", true, plain.Say("The yearly maintenance of an extinguisher is kept on record for a year after the last entry.")},
		{KeepDocuments, plain.Say("Earlier versions of lists, procedures and rigs, of the equipment and the emergency card"), 5, 10, "", false, plain.Say("What was in force says what a check or a lockout was made by. No law names a time; five years, as long as injury records, is common practice.")},
		{KeepPeople, plain.Say("People who left"), 5, 10, injuries, true, plain.Say("Injury records name people and are saved for five years after the end of the calendar year they cover.")},
	}
}

// KeepRuleOf finds the rule of a sort.
func KeepRuleOf(sort KeepSort) (KeepRule, bool) {
	for _, rule := range KeepRules() {
		if rule.Sort == sort {
			return rule, true
		}
	}
	return KeepRule{}, false
}
