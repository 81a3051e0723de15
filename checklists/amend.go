package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Amend makes a further signed entry to an inspection out of answers taken by
// [Take] after it was signed, and a defect for each thing found. A stop item
// left unchecked is cleared by an amendment that answers it OK; a defect is
// not, it ends only by its return to service.
//
// list is the version the inspection was made with. Errors are a
// [plain.Problems] by item id, or a [plain.Refusal].
func Amend(in Inspection, list List, answers []Answer, by procedures.Person, ids func() string, now time.Time, open []Defect) (Amendment, []Defect, error) {
	if !by.Works() {
		return Amendment{}, nil, plain.Refuse("", "Only somebody of the crew signs a check. Sign in as yourself.")
	}
	if in.ID == "" || in.List != list.ID || in.Version != list.Version {
		return Amendment{}, nil, plain.Refuse("", "An inspection is amended with the version of the list it was made with.")
	}
	if now.Before(in.At) {
		return Amendment{}, nil, plain.Refuse("", "The clock stands before the time the inspection was signed. Set the clock right first.")
	}
	var bad plain.Problems
	bad.Unless(len(answers) > 0, "items", "at least one item answered again")
	given := latest(answers, now)
	for _, a := range answers {
		_, known := list.asks(a.Item)
		bad.Unless(known, string(a.Item), "an item this version of the list asks")
	}
	var kept []Answer
	for _, item := range list.Asks() {
		answer, answered := given[item.ID]
		if !answered {
			continue
		}
		bad.Add(string(item.ID), item.stands(answer))
		bad.Unless(!answer.At.Before(in.At) && now.Sub(answer.At) <= AnswerLasts, string(item.ID), "to be answered again, now")
		kept = append(kept, answer)
	}
	bad.Unless(len(kept) > 0 || len(bad) > 0, "items", "an answer that was given, not one still to come")
	if err := bad.Err(); err != nil {
		return Amendment{}, nil, err
	}
	made := Amendment{ID: AmendmentID(ids()), Inspection: in.ID, List: in.List, Version: in.Version,
		Answers: kept, Signer: by.ID, At: now}
	return made, defectsOf(list, kept, in.ID, ids, open), nil
}
