package checklists

import "time"

// fileField is one line a list's file can hold: its word there, the field of the
// list it stands for and what may stand in it. Export, import and the published
// schema are all made from these.
type fileField struct {
	word   string
	field  string // of the Go struct
	needed bool
	means  string // for the schema and whoever reads it

	longest int               // letters, of a text
	words   map[string]string // of a text, where only certain words are: as written, as kept
	most    float64           // of a number
	whole   bool              // a number without a fraction
	many    int               // of a list of texts or records: how many at most
	fields  []fileField       // of a record, or of each in a list of records
}

// mostInFile bounds every number of a file; none at a saw is this large in any unit.
const mostInFile = 1e9

func stateInFile() map[string]string {
	return map[string]string{"locked out": string(LockedOut), "stopped": string(Stopped), "running": string(Running)}
}

func resultInFile() map[string]string {
	return map[string]string{"ok": string(OK), "defect": string(Found), "not checked": string(NotChecked)}
}

// same are words kept as they are written.
func same[T ~string](words ...T) map[string]string {
	all := make(map[string]string, len(words))
	for _, word := range words {
		all[string(word)] = string(word)
	}
	return all
}

func listInFile() []fileField {
	return []fileField{
		{word: "id", field: "ID", needed: true, longest: longestID, means: "names the list through all its versions"},
		{word: "title", field: "Title", longest: LongestPrompt, means: "what the crew calls it"},
		{word: "version", field: "Version", whole: true, most: mostInFile, means: "number of a published version; left out of a draft"},
		{word: "in force from", field: "InForce", means: "when a published version is in force, UTC"},
		{word: "repeats version", field: "Repeats", whole: true, most: mostInFile, means: "the earlier version this one publishes anew"},
		{word: "due", field: "Schedule", fields: scheduleInFile(), means: "when it falls due"},
		{word: "items", field: "Items", needed: true, many: mostItems, fields: itemInFile(), means: "what is checked, in order"},
		{word: "loosened", field: "Loosened", many: mostItems + 1, fields: loosenedInFile(), means: "what this version asks less of than the one before, and why"},
	}
}

func scheduleInFile() []fileField {
	return []fileField{
		{word: "every", field: "Every", means: "how often", words: map[string]string{
			"shift": string(EachShift), "day": string(EachDay), "week": string(EachWeek), "month": string(EachMonth), "quarter": string(EachQuarter),
			"year": string(EachYear), "so many days": string(AfterDays), "so many running hours": string(AfterHours), "event": string(OnEvent)}},
		{word: "days", field: "Days", whole: true, most: mostDays, means: "days since it was last done; for stood idle, how long that is"},
		{word: "running hours", field: "Hours", most: mostHours, means: "running hours since it was last done"},
		{word: "meter", field: "Meter", longest: LongestText, means: "the meter whose hours count"},
		{word: "events", field: "On", many: len(EventKinds()), means: "what calls for it", words: map[string]string{
			"blade change": string(BladeChange), "filing": string(Filing), "jam": string(Jam), "repair": string(Repair), "move": string(Move),
			"shock load": string(ShockLoad), "power loss": string(PowerLoss), "stood idle": string(Idle)}},
		{word: "late after", field: "Grace", whole: true, most: mostGrace, means: "minutes into a shift, running hours, else whole days"},
		{word: "holds while due", field: "Holds", means: "equipment of its items is HELD until it is done"},
		{word: "holds once late", field: "HoldsLate", means: "equipment is HELD only once it is late"},
		{word: "expected of", field: "People", many: mostItems, longest: longestID, means: "ids of the people expected to do it"},
		{word: "expected of role", field: "Role", words: same("operator", "supervisor"), means: "anyone of that role is expected to do it"},
	}
}

func itemInFile() []fileField {
	return []fileField{
		{word: "id", field: "ID", needed: true, longest: longestID, means: "names the item through all versions; letters, digits and dashes"},
		{word: "section", field: "Station", longest: LongestPrompt, means: "where one stands for it"},
		{word: "equipment", field: "Equipment", longest: longestID, means: "id of the machine it is about"},
		{word: "check", field: "Prompt", longest: LongestPrompt, means: "what to check"},
		{word: "how", field: "How", longest: LongestNote, means: "how to check it"},
		{word: "why", field: "Source", longest: LongestPrompt, means: "the clause it comes from, or: common practice, no source"},
		{word: "machine", field: "State", words: stateInFile(), means: "state of the machine it is done in"},
		{word: "answer", field: "Kind", words: same(Choice, Number, Text, Photo, MeterReading, Somebody), means: "what it asks for; choice is OK or defect"},
		{word: "choose from", field: "Options", many: mostOptions, longest: LongestText, means: "of a choice: words to choose from, every one of them in order"},
		{word: "meter", field: "Meter", longest: LongestText, means: "of a meter: which one"},
		{word: "qualified for", field: "Qualified", words: same(ForLifting, ForElectrical), means: "what the person named, or who answers OK, must be qualified for"},
		{word: "limits", field: "Limits", fields: limitsInFile(), means: "of a number or a meter, in its unit"},
		{word: "a defect means", field: "Severity", words: same(Stop, Mend), means: "stop: may not run until mended; mend: may run with a stop-gap until a date"},
		{word: "photo of a defect", field: "DefectPhoto", means: "a defect needs a photo"},
		{word: "photo always", field: "AlwaysPhoto", means: "every answer needs a photo"},
		{word: "not fitted", field: "NotFitted", means: "isn't asked here"},
		{word: "picture", field: "Picture", longest: LongestText, means: "digest of a photo kept at the mill"},
		{word: "repeat", field: "Repeat", fields: repeatInFile(), means: "asked once for each of something"},
		{word: "only if", field: "When", fields: conditionInFile(), means: "asked only if an earlier answer is so"},
	}
}

func limitsInFile() []fileField {
	return []fileField{
		{word: "unit", field: "Unit", longest: LongestText, means: "of every number here: in, psi, %"},
		{word: "lowest", field: "Low", most: mostInFile, means: "lowest value that is OK"},
		{word: "highest", field: "High", most: mostInFile, means: "highest value that is OK"},
		{word: "highest is out", field: "HighOut", means: "the highest value itself is out already"},
		{word: "stop from", field: "StopAt", most: mostInFile, means: "from this value up a defect is stop"},
		{word: "slip beyond", field: "Most", most: mostInFile, means: "a value beyond this is a slip of the hand, not taken"},
		{word: "start values", field: "SiteSet", means: "the mill is to put in its maker's or its own"},
	}
}

func repeatInFile() []fileField {
	return []fileField{
		{word: "for each", field: "Per", needed: true, words: map[string]string{"dog": string(PerDog), "hook": string(PerHook),
			"entry point": string(PerEntryPoint), "headblock": string(PerHeadblock)}, means: "of what"},
		{word: "count", field: "Count", whole: true, most: mostTimes, means: "how many; left out: as many as set-up counts"},
		{word: "times", field: "Times", whole: true, most: mostTimes, means: "how many a published version asks for"},
	}
}

func conditionInFile() []fileField {
	return []fileField{
		{word: "item", field: "Item", needed: true, longest: longestID, means: "id of an item walked before"},
		{word: "result", field: "Result", words: resultInFile(), means: "its result is this"},
		{word: "choice", field: "Choice", longest: LongestText, means: "this word was chosen"},
		{word: "from", field: "From", most: mostInFile, means: "its number is this or more"},
		{word: "to", field: "To", most: mostInFile, means: "its number is this or less"},
	}
}

func loosenedInFile() []fileField {
	return []fileField{
		{word: "item", field: "Item", longest: longestID, means: "id of the item; left out for the list as a whole"},
		{word: "check", field: "Prompt", longest: LongestPrompt, means: "what it asked"},
		{word: "rule", field: "Source", longest: LongestPrompt, means: "where that came from"},
		{word: "reason", field: "Reason", longest: LongestNote, means: "the supervisor's"},
	}
}

// timeInFile is how a time is written in a file, in UTC.
const timeInFile = time.RFC3339Nano
