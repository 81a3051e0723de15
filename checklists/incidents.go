package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// EnterIncident puts on record that somebody was hurt, something broke, or
// nearly so: a fact, never refused to anyone of the mill. Of typed the kind,
// equipment, time, place, what happened, who was there, who was hurt, the harm
// and the photo count.
//
// held tells how its equipment is held from now on: after a hurt or damage at a
// machine it always is, after a near miss or away from the machines unless the
// one who enters it says otherwise. The defect or departure that holds it is
// made with it by [Incident.Stops] or [Incident.Departs].
//
// Its error is a [plain.Problems] for "kind", "equipment", "happened", "where",
// "what", "present", "harmed", "harm" and "hold".
func EnterIncident(id IncidentID, typed Incident, held Holding, by procedures.PersonID, plant procedures.Plant, now time.Time) (Incident, error) {
	i := Incident{ID: id, Kind: typed.Kind, Equipment: typed.Equipment, Happened: typed.Happened, Harm: typed.Harm, Photo: typed.Photo, By: by, At: now,
		Where: strings.TrimSpace(typed.Where), What: strings.TrimSpace(typed.What), Present: strings.TrimSpace(typed.Present), Harmed: strings.TrimSpace(typed.Harmed)}
	var bad plain.Problems
	equipment, known := plant.Find(i.Equipment)
	bad.Unless(i.Kind.Known(), "kind", "a near miss, somebody hurt, or something damaged")
	bad.Unless(known, "equipment", "a piece of equipment of this mill, or the whole mill")
	bad.Unless(!i.Happened.IsZero() && !i.Happened.After(now), "happened", "when it happened, not later than now")
	bad.Unless(tidy(i.Where, LongestNote), "where", "at most %d letters", LongestNote)
	bad.Unless(worded(i.What, LongestNote), "what", "what happened, in at most %d letters", LongestNote)
	bad.Unless(tidy(i.Present, LongestNote), "present", "at most %d letters", LongestNote)
	bad.Unless(tidy(i.Harmed, LongestNote), "harmed", "at most %d letters", LongestNote)
	bad.Unless(i.Kind != Hurt || i.Harmed != "", "harmed", "who was hurt, and what the injury is")
	bad.Unless(i.Kind == Hurt || i.Harmed == "", "kind", "somebody hurt, as you name who was hurt")
	bad.Unless(i.Harm.Known(), "harm", "one of the list, or not known yet")
	bad.Unless(i.Kind == Hurt || i.Harm == HarmNotKnown, "harm", "only where somebody was hurt")
	bad.Unless(held == HoldByStop || held == HoldByDeparture || held == HoldNothing, "hold", "how the equipment is held")
	mustHold := i.Kind != NearMiss && known && equipment.Kind != procedures.Site
	bad.Unless(held != HoldNothing || !mustHold, "hold", "held, until somebody has looked: somebody was hurt or something broke at this machine")
	if err := bad.Err(); err != nil {
		return Incident{}, err
	}
	return i, nil
}

// Stops is the incident with the stop defect that holds its equipment.
func (i Incident) Stops(id DefectID) (Incident, Defect) {
	i.Defect = id
	return i, Defect{ID: id, Equipment: i.Equipment, What: i.What, Severity: Stop, Photo: i.Photo, By: i.By, At: i.At}
}

// Departs is the incident with the departure that holds its equipment: what
// happened was against the rule.
func (i Incident) Departs(id DepartureID) (Incident, Departure) {
	i.Departure = id
	return i, Departure{ID: id, Equipment: i.Equipment, What: i.What, Happened: i.Happened, By: i.By, At: i.At, Photo: i.Photo}
}

// Learned puts on record what harm was learnt of after the incident was entered,
// on the word of the supervisor or deputy; known is when the mill was told of it.
// An incident that is closed takes it too. Its error is a [plain.Problems] for
// "harm" and "known", or a [plain.Refusal].
func (i Incident) Learned(harm Harm, known time.Time, by procedures.Person, now time.Time) (Incident, error) {
	if !by.Supervises() {
		return Incident{}, plain.Refuse("", "The supervisor or the deputy enters what harm was learnt of later.")
	}
	if i.Kind != Hurt {
		return Incident{}, plain.Refuse("", "Nobody was entered as hurt here. Enter it anew as somebody hurt, with the time it happened.")
	}
	var bad plain.Problems
	bad.Unless(harm.Known() && harm != HarmNotKnown, "harm", "how badly, one of the list")
	bad.Unless(harm != i.Harm || harm == HarmNotKnown, "harm", "something other than what is on record already")
	bad.Unless(!known.Before(i.Happened) && !known.After(now), "known", "when you were told, after it happened and not later than now")
	if err := bad.Err(); err != nil {
		return Incident{}, err
	}
	i.Harm, i.HarmBy, i.HarmAt, i.HarmKnown = harm, by.ID, now, known
	return i, nil
}

// Act says what is to be done after the incident, by whom and by when, on the
// word of the supervisor or deputy. Its error is a [plain.Problems] for
// "action", "person" and "due", or a [plain.Refusal].
func (i Incident) Act(id IncidentActionID, what string, to procedures.Person, due time.Time, by procedures.Person, now time.Time) (IncidentAction, error) {
	if !by.Supervises() {
		return IncidentAction{}, plain.Refuse("", "The supervisor or the deputy says what is done after an incident.")
	}
	if !i.Open() {
		return IncidentAction{}, plain.Refuse("", "This incident is closed already.")
	}
	what = strings.TrimSpace(what)
	var bad plain.Problems
	bad.Unless(worded(what, LongestNote), "action", "what is to be done, in at most %d letters", LongestNote)
	bad.Unless(to.ID != "" && to.Works(), "person", "somebody of the crew")
	bad.Unless(due.After(now) && due.Sub(now) <= LongestDue, "due", "a day to come, within a year")
	if err := bad.Err(); err != nil {
		return IncidentAction{}, err
	}
	return IncidentAction{ID: id, Incident: i.ID, Equipment: i.Equipment, What: what, Person: to.ID, Due: due, By: by.ID, At: now}, nil
}

// Report notes that somebody of the crew did it, and what. Its error is a
// [plain.Problems] for "done", or a [plain.Refusal].
func (a IncidentAction) Report(done string, by procedures.Person, now time.Time) (IncidentAction, error) {
	if !by.Works() {
		return IncidentAction{}, plain.Refuse("", "Only somebody of the crew reports it done. Sign in as yourself.")
	}
	if !a.Open() {
		return IncidentAction{}, plain.Refuse("", "This is reported done already.")
	}
	done = strings.TrimSpace(done)
	var bad plain.Problems
	bad.Unless(worded(done, LongestNote), "done", "what was done, in at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return IncidentAction{}, err
	}
	a.DoneBy, a.DoneAt, a.Done = by.ID, now, done
	return a, nil
}

// Close ends the incident on the signed reason of the supervisor or deputy, once
// everything that was to be done is reported done. What holds its equipment ends
// by itself, not by this. Its error is a [plain.Problems] for "reason", or a
// [plain.Refusal].
func (i Incident) Close(actions []IncidentAction, by procedures.Person, reason string, now time.Time) (Incident, error) {
	if !by.Supervises() {
		return Incident{}, plain.Refuse("", "An incident is closed by the supervisor or the deputy.")
	}
	if !i.Open() {
		return Incident{}, plain.Refuse("", "This incident is closed already.")
	}
	for _, a := range actions {
		if a.Incident == i.ID && a.Open() {
			return Incident{}, plain.Refuse("", "Not everything that was to be done is reported done: %s", a.What)
		}
	}
	if now.Before(i.At) {
		return Incident{}, plain.Refuse("", "The clock stands before the time this was entered. Set the clock right first.")
	}
	reason = strings.TrimSpace(reason)
	var bad plain.Problems
	bad.Unless(worded(reason, LongestNote), "reason", "what was found out and changed, in at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return Incident{}, err
	}
	i.ClosedBy, i.ClosedAt, i.Reason = by.ID, now, reason
	return i, nil
}

// How soon an employer under United States federal law reports what came to
// somebody at work, 29 CFR 1904.39(a)(1) and (2). A state's own plan may ask for more.
const (
	ReportDeathWithin  = 8 * time.Hour
	ReportInjuryWithin = 24 * time.Hour
	ReportClause       = "29 CFR 1904.39(a)"
	// One learnt of later counts from when it was told to the mill (from memory).
	ReportLaterClause = "29 CFR 1904.39(b)(7) (from memory)"
)

// ReportBy is the latest time to report the incident to the authorities under
// the law the mill works under, counted from when it happened, or for harm learnt
// of later from when the mill was told, and the clause; zero where this law or this harm has no such time that is known here. It is
// never proof that nothing is to be reported.
func (i Incident) ReportBy(law procedures.Law) (time.Time, string) {
	if law != procedures.LawUSFederal && law != procedures.LawUSState {
		return time.Time{}, ""
	}
	from, clause := i.Happened, ReportClause
	if !i.HarmKnown.IsZero() {
		from, clause = i.HarmKnown, ReportLaterClause
	}
	switch i.Harm {
	case Death:
		return from.Add(ReportDeathWithin), clause
	case Hospital, Amputation, EyeLost:
		return from.Add(ReportInjuryWithin), clause
	}
	return time.Time{}, ""
}
