package procedures_test

import "slices"

// standing is how a clause is answered.
type standing string

const (
	enforced standing = "enforced"     // what goes against it is refused
	recorded standing = "recorded"     // kept, computed or shown; nothing is refused for it
	outside  standing = "out of scope" // and why
)

// clause is one row of the list of everything 29 CFR 1910.147 (a) to (f) and its
// Appendix A ask, in our own short words. Reference, not legal advice.
type clause struct {
	id       string
	asks     string
	standing standing
	how      string
	rules    []string // of a lockout under way: each has a scene in clauseRows or beginRows
	like     []string // clauses whose rules stand behind this one too
	tests    []string // beside those of the tables; of another package with its folder: "server/store.TestX"
	hand     string   // a row without a rule: the change made by hand, and what failed for it
}

// chapter is one paragraph of the list.
type chapter struct {
	title string
	rows  []clause
}

func clauseList() []chapter {
	return slices.Concat([]chapter{scopeOfClauses(), words()}, general(), []chapter{applying(), release(), extra(), appendix()})
}

// outOfScope are parts of rows that Stillsaw answers otherwise.
func outOfScope() [][2]string {
	return [][2]string{
		{"(c)(4)(i), exception", "The eight parts are computed, and the two nothing can show are declared by name, but no lockout goes by them: servicing always names its written procedure. A saw, a hoist and a fan each keep energy after shutdown, so part 1 fails for everything such a mill locks out."},
		{"(a)(2)(iii)(A), cord and plug", "Whether a piece may be served with its plug in the hand is told and refused wherever anything is stored; who holds the plug from when to when isn't kept, since that work lies outside the rule and outside a lockout."},
		{"(c)(6)(i)(A)–(D), one-person mill", "Nobody inspects a procedure only they use: somebody authorized from outside is entered by name. Whether a sole owner is under the rule at all is for the law to say."},
		{"(f)(3)(ii)(C), coordinator", "One primary of the lockouts of a piece of equipment answers over them all. Who that should be, and how crews of two firms talk to each other, is for the mill."},
		{"what is entered late", "It happened, so it is taken where the order of things allows it, and what it lacks becomes a departure: training, an exchange of procedures or a lock of one's own; word of the own lock taken off; a picture; the keys seen in the box; a minute of the wait; tools that were counted in and not out, or more out than in; a tag that could not be read or was hung without what it needs; nobody in, when it was called off. Of the picture it stays a departure: nobody is asked for it again. Training, exchange and lock are asked of who came on that way at the next act towards work, and the keys of whoever proves zero, begins or takes over next. What has to be said in words, where a lock holds, and who told is typed late as well and asked for. Being of the crew and authorized is asked at once, and power for a test is never entered past another's lock."},
		{"how long certificates are kept", "The clauses name no time. The record keeps every entry for ever, so the question doesn't come up."},
	}
}

// besides is what holds over all clauses, and the tests that show it.
func besides() []clause {
	return []clause{
		{id: "While a reported lock is on, nothing that could reach its owner may run.", tests: []string{"TestNoSequenceOfActsBreaksAnInvariant", "checklists.TestNothingRunsThatCouldReachSomebodyWithALockOn", "server.TestHeadSawIsHeldFromBeginningToEndOfALockout"}},
		{id: "Nobody but its owner takes a lock off, save for somebody absent.", tests: []string{"TestNoSequenceOfActsBreaksAnInvariant"}},
		{id: "No work before every point is locked and every energy proven; no device bare while somebody may be at work.", tests: []string{"TestNoSequenceOfActsBreaksAnInvariant"}},
		{id: "Nothing is given back with a lock on or somebody still in.", tests: []string{"TestNoSequenceOfActsBreaksAnInvariant"}},
		{id: "A replay gives the same state, late entries at the time they happened.", tests: []string{"TestNoSequenceOfActsBreaksAnInvariant", "TestHistoriesKeptEarlierFoldToTheSameState", "server/store.TestReplayOfTheEntriesMakesTheSameTables"}},
		{id: "Each of these is seen to fail with the rule that keeps it left out.", tests: []string{"TestEachInvariantFailsOnABrokenLaw", "TestTheWitnessFlagsBadHistories"}},
		{id: "Killed in any step, nothing acknowledged is lost.", tests: []string{"cmd/stillsaw.TestLockoutSurvivesBeingKilledInEveryStage"}},
		{id: "Two phones on one lockout see each other's locks.", tests: []string{"server.TestTwoPhonesOnOneGroupLockout"}},
	}
}

func scopeOfClauses() chapter {
	return chapter{"(a) Scope, application and purpose", []clause{
		{id: "(a)(1)(i)", asks: "Servicing where something could start, or let energy go, on somebody who doesn't expect it.", standing: enforced,
			how: "A task at equipment with any energy counts as servicing until somebody answers for another kind."},
		{id: "(a)(1)(ii)(A)–(E)", asks: "Leaves out building and farm work, ships and their terminals, electric utilities, exposure covered by the electrical rules, oil and gas wells.", standing: outside,
			how: "Nothing is switched off for an exempt mill: it names its law, which changes the citations printed and no rule and no record. The named law is asked for."},
		{id: "(a)(2)(i)", asks: "Applies while a machine is serviced or maintained.", standing: enforced, how: "A task is production, minor servicing or servicing; no fourth kind and none unsaid."},
		{id: "(a)(2)(ii)", asks: "Ordinary production is outside, but for (A) and (B).", standing: enforced, how: "Both are asked of every task called production."},
		{id: "(a)(2)(ii)(A)", asks: "A guard or safety device that comes off or is got round brings it in.", standing: enforced, how: "A yes makes it servicing, with a procedure."},
		{id: "(a)(2)(ii)(B)", asks: "So does any part of the body where the work is done or in the way of the machine.", standing: enforced, how: "A yes makes it servicing."},
		{id: "(a)(2)(ii) Note", asks: "Small adjustments in production are outside when routine, repeated, part of production, and other measures protect as well.", standing: enforced,
			how: "All four, a named measure, a supervisor's name, and a review within the year; else servicing again."},
		{id: "(a)(2)(iii)(A)", asks: "Outside: unplugging is all the control there is, and the one who works holds the plug.", standing: enforced, how: "Refused where anything is stored, more than one source feeds it, or anything but a plug cuts it off. Not kept as a lockout."},
		{id: "(a)(2)(iii)(B)", asks: "Outside: hot taps on lines under pressure.", standing: outside, how: "A sawmill has no such work; the kinds of task don't offer it."},
		{id: "(a)(3)(i)", asks: "The employer has a program and fixes devices so that nothing starts or lets go unexpectedly.", standing: enforced, how: "The program says purpose, duty, who is in charge, scope and enforcement, or isn't kept. Without one an absent person's lock stays on; nothing else is refused for it."},
		{id: "(a)(3)(ii)", asks: "Where another standard asks for a lock, this one's procedures and training come with it.", standing: enforced, how: "Every step names its clause, more than one where more ask for it, and the placard prints them all. Which standard asks is for who writes it."},
	}}
}

func words() chapter {
	return chapter{"(b) Words that decide something", []clause{
		{id: "(b) affected employee", asks: "Runs the machine, or works where it is serviced.", standing: recorded, how: "Affected people are listed for each piece of equipment; who of them wasn't told shows as a gap. Before the shutdown somebody says whom they told.",
			hand: "AffectedGaps made to find nobody"},
		{id: "(b) authorized employee", asks: "Locks out in order to service; by the supervisor's word and by training.", standing: enforced, how: "Both are asked of whoever begins or joins; training once the mill has entered any.",
			rules: []string{"(c)(8) authorized to begin", "(c)(8) authorized"}},
		{id: "(b) capable of being locked out", asks: "Takes a lock without being taken apart, rebuilt or changed for good.", standing: enforced, how: "Each device says yes, yes with its adapter, or no; a no is on the list to be made lockable."},
		{id: "(b) energy isolating device", asks: "Something that physically keeps energy away. A button, selector or other control does not.", standing: enforced, how: "The kinds are a fixed list; stop button, emergency stop, pendant, key, selector and clutch lever are refused with the reason, as a kind and as the name of a device.", tests: []string{"TestNoDeviceIsRenamedAControl"}},
		{id: "(b) lockout device", asks: "A lock that holds an isolating device in its safe position.", standing: enforced, how: "Without the number of a lock nothing is reported on.",
			rules: []string{"(c)(5)(ii) a numbered lock", "(d)(4)(i) a lock, not a tick"}},
		{id: "(b) tagout device", asks: "A warning fastened to an isolating device.", standing: enforced, how: "Kept apart from locks; never in place of one where one fits.",
			rules: []string{"(c)(2)(ii) no tag for a lock"}},
		{id: "(b) normal production operations", asks: "Using the machine for what it is meant to do.", standing: enforced, how: "By the questions of (a)(2)(ii).", like: []string{"(a)(2)(ii)", "(a)(2)(ii)(A)", "(a)(2)(ii)(B)"}},
		{id: "(b) servicing and/or maintenance", asks: "Installing, setting up, adjusting, inspecting, mending, greasing, cleaning, clearing jams, changing tools.", standing: enforced, how: "The tasks a mill begins with count as servicing, all 23 of the list below, until their kind is answered.", like: []string{"(a)(2)(i)"}},
		{id: "(b) setting up", asks: "Getting a machine ready for its work.", standing: enforced, how: "Setting lead and guides counts as servicing from the start.", like: []string{"(a)(2)(i)"}},
	}}
}
