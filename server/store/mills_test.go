package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"os"
	"reflect"
	"regexp"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/server/record"
	"stillsaw/server/sample"
	"stillsaw/server/search"
	"stillsaw/server/store/scratchdb"
)

const neighbour = checklists.MillID("01990000-0000-7000-8000-0000000000bb")

// settle makes a mill with the same people, by the same ids, and nothing else,
// in a database that may hold another already.
func settle(t *testing.T, s *Store, id checklists.MillID) *Mill {
	t.Helper()
	require.NoError(t, s.writer.do(t.Context(), func(tx *Tx) error {
		bodies := []body{&millBody{Mill: millOf(id)}, &plantBody{Plant: plantOf()}}
		for _, p := range []procedures.Person{sam, ada, ben, rita} {
			bodies = append(bodies, newPersonBody(p))
		}
		for _, b := range bodies {
			if _, err := tx.append(id, act{Actor: sam.ID, At: six.Add(-72 * time.Hour), Subject: string(id)}, b); err != nil {
				return err
			}
		}
		return nil
	}))
	return s.Of(id)
}

// said makes results alike that differ in ids made on the way.
func said(values ...any) string {
	text := ""
	for _, value := range values {
		if err, ok := value.(error); ok {
			value = err.Error()
		}
		made, err := json.Marshal(value)
		if err != nil {
			made = fmt.Append(nil, value)
		}
		text += string(made) + "\n"
	}
	return regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`).ReplaceAllString(text, "made")
}

// calls is one call of every method of a Mill with the ids of h, as somebody
// of another mill who learned them could make it.
func calls(ctx context.Context, h happened) map[string]func(*Mill) string {
	at := h.After.Add(time.Minute)
	draft := Draft{Sort: Lists, ID: "short", Title: "Theirs", Revision: 1, Doc: "{}"}
	events := []procedures.Event{{Kind: procedures.WorkBegan}}
	judge := func(LiftFacts) (Judged, error) {
		return Judged{Asked: json.RawMessage(`{}`), Verdict: json.RawMessage(`{}`)}, nil
	}
	return map[string]func(*Mill) string{
		"ID":     func(m *Mill) string { return said(m.ID()) },
		"Facts":  func(m *Mill) string { f, err := m.Facts(ctx, at); f.LastEntry = time.Time{}; return said(f, err) },
		"Plant":  func(m *Mill) string { return said(m.Plant(ctx)) },
		"People": func(m *Mill) string { return said(m.People(ctx)) },
		"Names": func(m *Mill) string {
			n, err := m.Names(ctx)
			return said(fmt.Sprint(n), err)
		},
		"Person":       func(m *Mill) string { return said(m.Person(ctx, ada.ID)) },
		"Digest":       func(m *Mill) string { return said(m.Digest(ctx, sam.ID)) },
		"Session":      func(m *Mill) string { return said(m.Session(ctx, [32]byte{1}, six)) },
		"Sessions":     func(m *Mill) string { return said(m.Sessions(ctx, ada.ID, six)) },
		"Drafts":       func(m *Mill) string { return said(m.Drafts(ctx)) },
		"Draft":        func(m *Mill) string { return said(m.Draft(ctx, Lists, "short")) },
		"InForce":      func(m *Mill) string { return said(m.InForce(ctx, Lists)) },
		"Published":    func(m *Mill) string { return said(m.Published(ctx, Lists, "short", 0)) },
		"List":         func(m *Mill) string { return said(m.List(ctx, "short", 1)) },
		"ListsInForce": func(m *Mill) string { return said(m.ListsInForce(ctx, at)) },
		"ListInForce":  func(m *Mill) string { return said(m.ListInForce(ctx, "short", at)) },
		"Versions":     func(m *Mill) string { return said(m.Versions(ctx, "short")) },
		"Saved":        func(m *Mill) string { return said(m.Saved(ctx, Lists, "short", 1)) },
		"KeepList":     func(m *Mill) string { return said(m.KeepList(ctx, draft, 1, sam, at)) },
		"ReleaseList": func(m *Mill) string {
			return said(m.ReleaseList(ctx, NewID(), Release{Draft: draft, Over: 1}, sam, at))
		},
		"Procedure":  func(m *Mill) string { return said(m.Procedure(ctx, "hoist", 1)) },
		"Rig":        func(m *Mill) string { r, p, err := m.Rig(ctx, "main-hoist", 1); return said(r, p, err) },
		"Walk":       func(m *Mill) string { return said(m.Walk(ctx, h.Walk)) },
		"Walks":      func(m *Mill) string { return said(m.Walks(ctx)) },
		"Inspection": func(m *Mill) string { in, seq, err := m.Inspection(ctx, h.Inspection); return said(in, seq, err) },
		"Amendments": func(m *Mill) string { return said(m.Amendments(ctx, h.Inspection)) },
		"Defect":     func(m *Mill) string { return said(m.Defect(ctx, h.Defect)) },
		"Defects": func(m *Mill) string {
			open, err := m.Defects(ctx, true, 9)
			ended, err2 := m.Defects(ctx, false, 9)
			return said(open, err, ended, err2)
		},
		"DefectsOf": func(m *Mill) string { return said(m.DefectsOf(ctx, h.Inspection, six.Add(-time.Hour), at)) },
		"Rechecked": func(m *Mill) string {
			return said(m.Rechecked(ctx, checklists.Defect{Equipment: "carriage", Inspection: h.Inspection, Item: "C4", MendedAt: six.Add(-time.Hour)}, ada.ID))
		},
		"Departure": func(m *Mill) string { return said(m.Departure(ctx, h.Departure)) },
		"Departures": func(m *Mill) string {
			open, err := m.Departures(ctx, true, 9)
			closed, err2 := m.Departures(ctx, false, 9)
			return said(open, err, closed, err2)
		},
		"Lockout":       func(m *Mill) string { return said(m.Lockout(ctx, h.Lockout)) },
		"OpenLockouts":  func(m *Mill) string { return said(m.OpenLockouts(ctx)) },
		"EndedLockouts": func(m *Mill) string { return said(m.EndedLockouts(ctx, 9)) },
		"Lift":          func(m *Mill) string { return said(m.Lift(ctx, h.Lift)) },
		"Lifts":         func(m *Mill) string { return said(m.Lifts(ctx, 9)) },
		"Photo":         func(m *Mill) string { return said(m.Photo(ctx, h.Photo)) },
		"Head":          func(m *Mill) string { head, err := m.Head(ctx); return said(head.Size, err) },
		"Entries": func(m *Mill) string {
			all, more, err := m.Entries(ctx, Filter{Equipment: "carriage", Limit: 99})
			return said(len(all), more, err)
		},
		"Leaf": func(m *Mill) string { e, _, err := m.Leaf(ctx, 9); return said(e, err) },
		"Day":  func(m *Mill) string { return said(m.Day(ctx, six.Add(-48*time.Hour), six.Add(24*time.Hour))) },
		"ClauseFacts": func(m *Mill) string {
			f, err := m.ClauseFacts(ctx, at)
			f.LastEntry = time.Time{}
			return said(f, err)
		},
		"CalendarFacts": func(m *Mill) string {
			f, err := m.CalendarFacts(ctx, six.Add(-48*time.Hour), six.Add(24*time.Hour))
			for i := range f.Mills {
				f.Mills[i].From = time.Time{}
			}
			return said(f, err)
		},
		"Prove": func(m *Mill) string {
			_, leaf, err := m.Leaf(ctx, 9)
			p, err2 := m.Prove(ctx, 9, leaf)
			return said(p.Head.Size, err, err2)
		},

		"AllowMinors":  func(m *Mill) string { return said(m.AllowMinors(ctx, NewID(), true, sam, at)) },
		"Blades":       func(m *Mill) string { return said(m.Blades(ctx)) },
		"DiscardDraft": func(m *Mill) string { return said(m.DiscardDraft(ctx, Lists, "short", 1, sam)) },
		"KeepBlade": func(m *Mill) string {
			return said(m.KeepBlade(ctx, NewID(), "", checklists.Blade{ID: h.Blade, Serial: "X"}, sam, at))
		},
		"BladeDone": func(m *Mill) string {
			return said(m.BladeDone(ctx, NewID(), checklists.BladeAct{Blade: h.Blade, Work: checklists.BladeTakenOff, On: at}, sam, at))
		},
		"Safety": func(m *Mill) string { items, checks, err := m.Safety(ctx); return said(items, checks, err) },
		"KeepSafetyItem": func(m *Mill) string {
			return said(m.KeepSafetyItem(ctx, NewID(), "", checklists.SafetyItem{ID: "x"}, sam, at))
		},
		"CheckSafetyItem": func(m *Mill) string {
			return said(m.CheckSafetyItem(ctx, NewID(), checklists.SafetyCheck{Item: "x"}, sam, at))
		},
		"Events": func(m *Mill) string { return said(m.Events(ctx, 9)) },
		"ReportEvent": func(m *Mill) string {
			return said(m.ReportEvent(ctx, NewID(), checklists.Event{Kind: checklists.Jam, Equipment: "hoist"}, ben, at))
		},
		"ExcuseMiss":  func(m *Mill) string { return said(m.ExcuseMiss(ctx, NewID(), "short", six, "theirs", sam, at)) },
		"ChangeMill":  func(m *Mill) string { return said(m.ChangeMill(ctx, NewID(), millOf(""), sam, at)) },
		"EditMill":    func(m *Mill) string { return said(m.EditMill(ctx, NewID(), "mark", millOf(""), sam, at)) },
		"ChangePlant": func(m *Mill) string { return said(m.ChangePlant(ctx, NewID(), plantOf(), sam, at)) },
		"EditEquipment": func(m *Mill) string {
			return said(m.EditEquipment(ctx, NewID(), "mark", "hoist", procedures.Particulars{Name: "Theirs"}, sam, at))
		},
		"AddEquipment": func(m *Mill) string {
			return said(m.AddEquipment(ctx, NewID(), procedures.Equipment{ID: "edger", PartOf: "site", Name: "Edger"}, sam, at))
		},
		"RemoveEquipment": func(m *Mill) string { return said(m.RemoveEquipment(ctx, NewID(), "dust-collection", sam, at)) },
		"AddPerson": func(m *Mill) string {
			id, err := m.AddPerson(ctx, NewID(), ben, "their digest", sam, at)
			return said(id, err)
		},
		"KeepPerson": func(m *Mill) string { return said(m.KeepPerson(ctx, NewID(), ben, "their digest", sam, at)) },
		"EditPerson": func(m *Mill) string { return said(m.EditPerson(ctx, NewID(), "mark", ben, "their digest", sam, at)) },
		"ResetPIN": func(m *Mill) string {
			return said(m.ResetPIN(ctx, NewID(), ada.ID, "their digest", "at-the-pc", "", at))
		},
		"OpenSession": func(m *Mill) string {
			later := six.Add(20 * time.Hour) // the other mill's session has run out by then
			return said(m.OpenSession(ctx, Session{Token: [32]byte{1}, Person: ada.ID, Made: later, Expires: later.Add(time.Hour)}))
		},
		"MayTry": func(m *Mill) string {
			return said(m.MayTry(ctx, ada.ID, "10.0.0.7", slowly(), six.Add(20*time.Hour)))
		},
		"RightTry": func(m *Mill) string {
			m.RightTry(ada.ID, "10.0.0.7")
			return said(m.WrongTry(ctx, ben.ID, "elsewhere", slowly(), six))
		},
		"WrongTry": func(m *Mill) string {
			return said(m.WrongTry(ctx, ada.ID, "10.0.0.7", slowly(), six.Add(20*time.Hour)))
		},
		"ConfirmClock": func(m *Mill) string { return said(m.ConfirmClock(ctx, NewID(), sam, at)) },
		"CloseSession": func(m *Mill) string { return said(m.CloseSession(ctx, [32]byte{1})) },
		"RemoveTask": func(m *Mill) string {
			return said(m.RemoveTask(ctx, NewID(), "mark", "oil", sam, at))
		},
		"KeepDraft":    func(m *Mill) string { return said(m.KeepDraft(ctx, draft, at)) },
		"Publish":      func(m *Mill) string { return said(m.Publish(ctx, NewID(), Lists, "short", 1, sam, at, NumberRig)) },
		"PublishDraft": func(m *Mill) string { return said(m.PublishDraft(ctx, NewID(), draft, sam, at, NumberRig)) },
		"PublishAll": func(m *Mill) string {
			return said(m.PublishAll(ctx, NewID(), []Draft{draft}, sam, at, func(Sort) Number { return NumberRig }))
		},
		"BeginWalk": func(m *Mill) string { return said(m.BeginWalk(ctx, NewID(), "short", ben, at)) },
		"BeginWalkAs": func(m *Mill) string {
			return said(m.BeginWalkAs(ctx, NewID(), Beginning{List: "short", Walk: h.Walk, Version: 1, Seen: at}, ben, at))
		},
		"KeepSettings": func(m *Mill) string { return said(m.KeepSettings(ctx, ada.ID, Settings{Scheme: "dark"}, at)) },
		"Settings":     func(m *Mill) string { return said(m.Settings(ctx, ada.ID)) },
		"WalkNamed":    func(m *Mill) string { return said(m.WalkNamed(ctx, h.Walk)) },
		"TakeSent": func(m *Mill) string {
			return said(m.TakeSent(ctx, h.Walk, Sent{Answers: answers(at), Saved: 1}, ben, at))
		},
		"FinishWalk": func(m *Mill) string { return said(m.FinishWalk(ctx, NewID(), h.Walk, ben, at, at)) },
		"SetAside":   func(m *Mill) string { return said(m.SetAside(ctx, NewID(), h.Walk, "another held it", ben, at)) },
		"AsideWalk":  func(m *Mill) string { return said(m.AsideWalk(ctx, h.Walk)) },
		"KeepLiftWait": func(m *Mill) string {
			return said(m.KeepLiftWait(ctx, NewID(), url.Values{"length": {"1"}}, ada, at, at))
		},
		"LiftWaits":      func(m *Mill) string { return said(m.LiftWaits(ctx, ada.ID)) },
		"LiftWait":       func(m *Mill) string { return said(m.LiftWait(ctx, h.LiftWait)) },
		"EndLiftWait":    func(m *Mill) string { return said(m.EndLiftWait(ctx, h.LiftWait, ada)) },
		"TakeAnswers":    func(m *Mill) string { return said(m.TakeAnswers(ctx, h.Walk, answers(at), ben, at)) },
		"SignInspection": func(m *Mill) string { return said(m.SignInspection(ctx, NewID(), h.Walk, ben, at, time.Time{})) },
		"AmendInspection": func(m *Mill) string {
			return said(m.AmendInspection(ctx, NewID(), h.Inspection, answers(at)[:1], ada, at))
		},
		"AllowRunCheck": func(m *Mill) string {
			return said(m.AllowRunCheck(ctx, NewID(), h.Inspection, []procedures.EquipmentID{"carriage"}, ada, at))
		},
		"AllowRunCheckOf": func(m *Mill) string { return said(m.AllowRunCheckOf(ctx, NewID(), h.Defect, ada, at)) },
		"StopIt":          func(m *Mill) string { return said(stop(ctx, m, NewID(), "theirs")) },
		"DescribeDefect":  func(m *Mill) string { return said(m.DescribeDefect(ctx, NewID(), h.Open, "theirs", "", ben, at)) },
		"MendDefect":      func(m *Mill) string { return said(m.MendDefect(ctx, NewID(), h.Open, "theirs", "", ben, at)) },
		"ReturnDefect":    func(m *Mill) string { return said(m.ReturnDefect(ctx, NewID(), h.Open, checklists.Recheck{}, ada, at)) },
		"AssignDefect": func(m *Mill) string {
			return said(m.AssignDefect(ctx, NewID(), h.Open, ada.ID, at.Add(time.Hour), sam, at))
		},
		"RedateDefect": func(m *Mill) string {
			return said(m.RedateDefect(ctx, NewID(), h.Open, at.Add(time.Hour), "theirs", "theirs", sam, at))
		},
		"NoteDefect": func(m *Mill) string {
			return said(m.NoteDefect(ctx, NewID(), h.Open, checklists.DefectNote{Kind: checklists.Noted, Text: "theirs"}, ada, at))
		},
		"DefectNotes":      func(m *Mill) string { return said(m.DefectNotes(ctx, h.Open)) },
		"DefectsSince":     func(m *Mill) string { return said(m.DefectsSince(ctx, six.Add(-time.Hour))) },
		"InspectionsSince": func(m *Mill) string { return said(m.InspectionsSince(ctx, six.Add(-time.Hour))) },
		"AmendmentsSince":  func(m *Mill) string { return said(m.AmendmentsSince(ctx, six.Add(-time.Hour))) },
		"ListVersions":     func(m *Mill) string { return said(m.ListVersions(ctx)) },
		"EnterIncident": func(m *Mill) string {
			return said(m.EnterIncident(ctx, NewID(), checklists.Incident{Kind: checklists.NearMiss, Equipment: "hoist", What: "theirs", Happened: six}, checklists.HoldNothing, ada, at))
		},
		"ActAfterIncident": func(m *Mill) string {
			return said(m.ActAfterIncident(ctx, NewID(), h.Incident, checklists.IncidentAction{What: "theirs", Person: ada.ID, Due: at.Add(time.Hour)}, sam, at))
		},
		"ReportIncidentAction": func(m *Mill) string {
			return said(m.ReportIncidentAction(ctx, NewID(), h.Incident, h.Action, "theirs", ada, at))
		},
		"LearnHarm": func(m *Mill) string {
			return said(m.LearnHarm(ctx, NewID(), h.Incident, checklists.Death, at, sam, at))
		},
		"CloseIncident": func(m *Mill) string { return said(m.CloseIncident(ctx, NewID(), h.Incident, "theirs", sam, at)) },
		"Incident":      func(m *Mill) string { return said(m.Incident(ctx, h.Incident)) },
		"Incidents": func(m *Mill) string {
			open, err := m.Incidents(ctx, true, 9)
			closed, err2 := m.Incidents(ctx, false, 9)
			return said(open, err, closed, err2)
		},
		"IncidentActions":     func(m *Mill) string { return said(m.IncidentActions(ctx, h.Incident)) },
		"OpenIncidentActions": func(m *Mill) string { return said(m.OpenIncidentActions(ctx)) },
		"EnterDeparture": func(m *Mill) string {
			return said(m.EnterDeparture(ctx, NewID(), checklists.Departure{Equipment: "hoist", What: "theirs", Happened: six}, ada, at))
		},
		"CloseDeparture": func(m *Mill) string { return said(m.CloseDeparture(ctx, NewID(), h.Departure, "theirs", sam, at)) },
		"KeepLift": func(m *Mill) string {
			return said(m.KeepLift(ctx, NewID(), Lift{Rig: "main-hoist", RigVersion: 1}, ada, at, judge))
		},
		"LiftFacts": func(m *Mill) string {
			f, err := m.LiftFacts(ctx, "main-hoist", at)
			f.LastEntry = time.Time{}
			return said(f, err)
		},
		"Since": func(m *Mill) string {
			f, err := m.Since(ctx, at, Lift{ID: h.Lift, Rig: "main-hoist", Hoist: "hoist"})
			one := f[h.Lift]
			one.LastEntry = time.Time{}
			return said(one, err)
		},
		"Run": func(m *Mill) string { return said(m.Run(ctx, h.Lift)) },
		"KeepLiftOfRun": func(m *Mill) string {
			return said(m.KeepLiftOfRun(ctx, NewID(), LiftOfRun{Lift: h.Lift}, ada, at, func(Lift, Since) (bool, error) { return true, nil }))
		},
		"ReportShockLoad": func(m *Mill) string { return said(m.ReportShockLoad(ctx, NewID(), "hoist", ada, at)) },
		"Weighed":         func(m *Mill) string { return said(m.Weighed(ctx)) },
		"RigVersions":     func(m *Mill) string { return said(m.RigVersions(ctx, "main-hoist")) },
		"Lighters":        func(m *Mill) string { return said(m.Lighters(ctx)) },
		"SignLighter": func(m *Mill) string {
			return said(m.SignLighter(ctx, NewID(), Lighter{Kind: "Acer rubrum"}, sam, at, func([]Weighed) (lift.Learned, error) { return lift.Learned{}, nil }))
		},
		"KeepGearInspections": func(m *Mill) string {
			return said(m.KeepGearInspections(ctx, NewID(), []GearInspection{{Rig: "main-hoist", Link: "legs"}, {Rig: "main-hoist", Link: "yoke"}}, false, ada, at))
		},
		"Gear": func(m *Mill) string { return said(m.Gear(ctx, "main-hoist")) },
		"KeepWeighing": func(m *Mill) string {
			return said(m.KeepWeighing(ctx, NewID(), Weighing{Lift: h.Lift, Reading: 1}, ada, at, func(Lift) error { return nil }))
		},
		"KeepGearInspection": func(m *Mill) string {
			return said(m.KeepGearInspection(ctx, NewID(), GearInspection{Rig: "main-hoist", Link: "legs"}, false, ada, at))
		},
		"KeepGearMeasurement": func(m *Mill) string {
			return said(m.KeepGearMeasurement(ctx, NewID(), GearMeasurement{Rig: "main-hoist", Link: "legs"}, ada, at))
		},
		"KeepPhoto": func(m *Mill) string {
			return said(m.KeepPhoto(ctx, Photo{Type: "image/jpeg", Bytes: []byte("a picture")}, at))
		},
		"BeginLockout": func(m *Mill) string {
			return said(m.BeginLockout(ctx, NewID(), "hoist", "theirs", at.Add(time.Hour), ada, at))
		},
		"BeginLockoutLate": func(m *Mill) string {
			return said(m.BeginLockoutLate(ctx, NewID(), "hoist", "theirs", at.Add(time.Hour), six, ada, at))
		},
		"BeginLockoutWith": func(m *Mill) string {
			return said(m.BeginLockoutWith(ctx, NewID(), "hoist", procedures.Beginning{Task: "theirs", By: ada, Expected: at.Add(time.Hour), At: at}, at))
		},
		"EnterTraining": func(m *Mill) string {
			return said(m.EnterTraining(ctx, NewID(), procedures.Training{Person: ada.ID, Level: procedures.OtherLevel, Trainer: "theirs", On: six}, sam, at))
		},
		"EnterTrainings": func(m *Mill) string {
			t := procedures.Training{Level: procedures.OtherLevel, Trainer: "theirs", On: six}
			return said(m.EnterTrainings(ctx, NewID(), t, []procedures.PersonID{ada.ID, ben.ID}, sam, at))
		},
		"TrainingState": func(m *Mill) string {
			s, err := m.TrainingState(ctx)
			s.Program.At, s.Program.By = time.Time{}, ""
			return said(s, s.Learned(ada.ID, "hoist"), err)
		},
		"Trainings": func(m *Mill) string { return said(m.Trainings(ctx)) },
		"InspectProcedure": func(m *Mill) string {
			return said(m.InspectProcedure(ctx, NewID(), inspectedHoist(six), h.Lockout, ben, at))
		},
		"InspectionFacts":      func(m *Mill) string { return said(m.InspectionFacts(ctx, "hoist", h.Lockout)) },
		"ProcedureInspection":  func(m *Mill) string { return said(m.ProcedureInspection(ctx, h.Certified)) },
		"ProcedureInspections": func(m *Mill) string { return said(m.ProcedureInspections(ctx, "")) },
		"SeeToFinding":         func(m *Mill) string { return said(m.SeeToFinding(ctx, NewID(), h.Certified, 0, "theirs", sam, at)) },
		"FindingsSeenTo":       func(m *Mill) string { return said(m.FindingsSeenTo(ctx)) },
		"KeepLock": func(m *Mill) string {
			item := procedures.LockItem{Number: "A-hoist-disconnect", Kind: procedures.KeyedPadlock, Owner: ben.ID, OnlyHere: true, Condition: procedures.LockGood, Issued: six}
			return said(m.KeepLock(ctx, NewID(), item, sam, at))
		},
		"AddLock": func(m *Mill) string {
			item := procedures.LockItem{Number: "A-hoist-disconnect", Kind: procedures.KeyedPadlock, Owner: ada.ID, OnlyHere: true, Condition: procedures.LockGood, Issued: six}
			return said(m.AddLock(ctx, NewID(), item, sam, at))
		},
		"EditLock": func(m *Mill) string {
			return said(m.EditLock(ctx, NewID(), "mark", procedures.LockItem{Number: "A-hoist-disconnect"}, sam, at))
		},
		"Locks": func(m *Mill) string { return said(m.Locks(ctx)) },
		"KeepContractor": func(m *Mill) string {
			return said(m.KeepContractor(ctx, NewID(), procedures.Contractor{ID: h.Firm, Firm: "Theirs"}, sam, at))
		},
		"EditContractor": func(m *Mill) string {
			return said(m.EditContractor(ctx, NewID(), "mark", procedures.Contractor{ID: h.Firm, Firm: "Theirs"}, sam, at))
		},
		"Contractors": func(m *Mill) string { return said(m.Contractors(ctx)) },
		"EditProgram": func(m *Mill) string { return said(m.EditProgram(ctx, NewID(), "mark", goodProgram(), sam, at)) },
		"SignEmergencyCard": func(m *Mill) string {
			return said(m.SignEmergencyCard(ctx, NewID(), Mark(checklists.EmergencyCard{}), millsCard(), sam, at))
		},
		"EmergencyCard": func(m *Mill) string { c, err := m.EmergencyCard(ctx); return said(c.Address, err) },
		"Remindable": func(m *Mill) string {
			r, err := m.Remindable(ctx, checklists.Facts{}, at)
			return said(len(r.Ahead(at)), err)
		},
		"KeepMailSettings": func(m *Mill) string {
			secret := "theirs"
			return said(m.KeepMailSettings(ctx, checklists.MailSettings{Host: "mail.example.com", Port: 25, From: "b@example.com"}, &secret, sam, at))
		},
		"MailSettings":      func(m *Mill) string { return said(m.MailSettings(ctx)) },
		"MailSecret":        func(m *Mill) string { return said(m.MailSecret(ctx)) },
		"KeepMailRecipient": func(m *Mill) string { return said(m.KeepMailRecipient(ctx, ada.ID, "", ada, at)) },
		"MailRecipients":    func(m *Mill) string { return said(m.MailRecipients(ctx)) },
		"PostMail": func(m *Mill) string {
			return said(m.PostMail(ctx, Mail{Person: ada.ID, Occasion: "day 2026-03-03", State: MailQueued, Made: at}, []string{"x"}))
		},
		"MailTold": func(m *Mill) string {
			told, posted, err := m.MailTold(ctx, ada.ID, "day 2026-03-03")
			return said(told, posted, err)
		},
		"MailDue":       func(m *Mill) string { return said(m.MailDue(ctx, at)) },
		"Outbox":        func(m *Mill) string { return said(m.Outbox(ctx, 9)) },
		"BeginMail":     func(m *Mill) string { return said(m.BeginMail(ctx, h.Mail, at)) },
		"EndMail":       func(m *Mill) string { return said(m.EndMail(ctx, h.Mail, "", false, at)) },
		"RetryMail":     func(m *Mill) string { return said(m.RetryMail(ctx, sam, at)) },
		"OpenCalendar":  func(m *Mill) string { return said(m.OpenCalendar(ctx, "theirs", ada.ID, [32]byte{2}, ada, at)) },
		"CloseCalendar": func(m *Mill) string { return said(m.CloseCalendar(ctx, h.Calendar, sam)) },
		"Calendars":     func(m *Mill) string { return said(m.Calendars(ctx)) },
		"CalendarFor":   func(m *Mill) string { return said(m.CalendarFor(ctx, [32]byte{1}, at)) },
		"MakeToken": func(m *Mill) string {
			return said(m.MakeToken(ctx, NewID(), checklists.Token{Name: "theirs", Use: checklists.TokenWrites, Person: ada.ID}, [32]byte{9}, sam, at))
		},
		"EnsureKey": func(m *Mill) string { _, err := m.EnsureKey(ctx, at); return said(err) },
		"RotateKey": func(m *Mill) string { return said(m.RotateKey(ctx, NewID(), "theirs", sam, at)) },
		"SetKeepFor": func(m *Mill) string {
			return said(m.SetKeepFor(ctx, NewID(), checklists.KeepPolicy{Sort: checklists.KeepLifts, Values: 4, Reason: "theirs"}, sam, at))
		},
		"SetHold": func(m *Mill) string {
			return said(m.SetHold(ctx, NewID(), checklists.KeepHold{Person: ada.ID, Reason: "theirs"}, sam, at))
		},
		"LiftHold":     func(m *Mill) string { return said(m.LiftHold(ctx, NewID(), h.Hold, "theirs", sam, at)) },
		"KeepHolds":    func(m *Mill) string { return said(m.KeepHolds(ctx)) },
		"KeepPolicies": func(m *Mill) string { return said(m.KeepPolicies(ctx)) },
		"Due":          func(m *Mill) string { return said(m.Due(ctx, at.AddDate(9, 0, 0))) },
		"DropDue":      func(m *Mill) string { return said(m.DropDue(ctx, at.AddDate(9, 0, 0))) },
		"ShowDrop":     func(m *Mill) string { return said(m.ShowDrop(ctx, Going{Photo: h.Photo}, sam, at)) },
		"DroppedFrom":  func(m *Mill) string { return said(m.DroppedFrom(ctx, h.Dropped)) },
		"PhotoDropped": func(m *Mill) string { return said(m.PhotoDropped(ctx, h.Photo)) },
		"FieldsOf":     func(m *Mill) string { f, photos, err := m.FieldsOf(ctx, 30); return said(f, photos, err) },
		"MayDrop":      func(m *Mill) string { return said(m.MayDrop(ctx, 30, sam, at)) },
		"DropByHand": func(m *Mill) string {
			return said(m.DropByHand(ctx, NewID(), "", Going{Photo: h.Photo}, checklists.DropByHand{Reason: "theirs", Rule: "theirs"}, sam, at))
		},
		"LogKeys":    func(m *Mill) string { k, err := m.LogKeys(ctx); return said(len(k), err) },
		"KeyExposed": func(m *Mill) string { return said(m.KeyExposed()) },
		"HasKey":     func(m *Mill) string { return said(m.HasKey(ctx)) },
		"TempFile": func(m *Mill) string {
			file, err := m.TempFile()
			if err == nil {
				err = errors.Join(file.Close(), os.Remove(file.Name()))
			}
			return said(err)
		},
		"Export": func(m *Mill) string {
			n := 0
			c, err := m.Export(ctx, Selection{Subject: string(h.Defect)}, Withhold{}, func(Exported) error { n++; return nil })
			return said(n, c.Size > 0, err != nil)
		},
		"ExportUnder": func(m *Mill) string {
			n := 0
			err := m.ExportUnder(ctx, Selection{Person: ada.ID, From: "2026-03-02"}, Withhold{}, func(Checkpoint, note.Signer) error { return nil }, func(Exported) error { n++; return nil })
			return said(n, err != nil)
		},
		"FillSearch": func(m *Mill) string { return said(m.FillSearch(ctx)) },
		"Unsearched": func(m *Mill) string { return said(m.Unsearched(ctx)) },
		"Search": func(m *Mill) string {
			f, err := m.Search(ctx, Looking{Query: search.Parse("splitter", nil), Filter: Filter{Limit: 9}})
			return said(len(f.Entries), err)
		},
		"Posted":     func(m *Mill) string { return said(m.Posted(ctx, "day 2026-03-02")) },
		"ExportSize": func(m *Mill) string { return said(m.ExportSize(ctx, Selection{Subject: string(h.Defect)})) },
		"Checkpoint": func(m *Mill) string { c, err := m.Checkpoint(ctx); return said(c.Size, len(c.Keys), err) },
		"KeepCheckpoint": func(m *Mill) string {
			if _, err := m.EnsureKey(ctx, at); err != nil {
				return said(err)
			}
			c, err := m.Checkpoint(ctx)
			return said(err, m.KeepCheckpoint(ctx, c, KeptAtStop, at))
		},
		"Compare": func(m *Mill) string {
			c, err := m.Compare(ctx, record.Head{Mill: "x", Size: 3}.Text())
			return said(len(c), err)
		},
		"CheckpointSince": func(m *Mill) string {
			proof, c, err := m.CheckpointSince(ctx, 3)
			return said(len(proof), c.Size, err)
		},
		"EntryProof": func(m *Mill) string {
			proof, c, err := m.EntryProof(ctx, 3)
			return said(len(proof), c.Size, err)
		},
		"KeptCheckpoints": func(m *Mill) string { k, err := m.KeptCheckpoints(ctx, 9); return said(len(k), err) },
		"SetUpWitness": func(m *Mill) string {
			return said(m.SetUpWitness(ctx, NewID(), checklists.Witness{Kind: checklists.WitnessMail, Place: "theirs@example.com"}, sam, at))
		},
		"SwitchWitness": func(m *Mill) string { return said(m.SwitchWitness(ctx, NewID(), h.Witness, false, sam, at)) },
		"RemoveWitness": func(m *Mill) string { return said(m.RemoveWitness(ctx, NewID(), h.Witness, sam, at)) },
		"Witnesses":     func(m *Mill) string { w, err := m.Witnesses(ctx); return said(len(w), err) },
		"Witness":       func(m *Mill) string { return said(m.Witness(ctx, h.Witness)) },
		"KeepWitnessed": func(m *Mill) string {
			return said(m.KeepWitnessed(ctx, h.Witness, record.Head{Mill: string(m.id), Size: 3}, "theirs", at))
		},
		"KeepWitnessMail": func(m *Mill) string {
			return said(m.KeepWitnessMail(ctx, h.Witness, record.Head{Mill: string(m.id), Size: 3}, at))
		},
		"KeepWitnessAnswer": func(m *Mill) string {
			return said(m.KeepWitnessAnswer(ctx, h.Witness, checklists.WitnessStrange, "theirs", at))
		},
		"Cosignatures": func(m *Mill) string { c, err := m.Cosignatures(ctx, 9); return said(len(c), err) },
		"RaiseWitnessAlarm": func(m *Mill) string {
			return said(m.RaiseWitnessAlarm(ctx, checklists.WitnessAlarm{Witness: h.Witness}, "theirs", at))
		},
		"CloseWitnessAlarm": func(m *Mill) string { return said(m.CloseWitnessAlarm(ctx, NewID(), h.Alarm, "theirs", sam, at)) },
		"WitnessAlarms":     func(m *Mill) string { a, err := m.WitnessAlarms(ctx); return said(len(a), err) },
		"EnterLog": func(m *Mill) string {
			return said(m.EnterLog(ctx, NewID(), checklists.WitnessedLog{Name: "Theirs", Verifier: []string{"theirs"}}, sam, at))
		},
		"RemoveLog": func(m *Mill) string { return said(m.RemoveLog(ctx, NewID(), h.OtherLog, sam, at)) },
		"SeenLogs":  func(m *Mill) string { l, err := m.SeenLogs(ctx); return said(len(l), err) },
		"SeeCheckpoint": func(m *Mill) string {
			return said(m.SeeCheckpoint(ctx, record.Submission{Checkpoint: h.OtherLog + "\n"}, at))
		},
		"WitnessKey": func(m *Mill) string { k, err := m.WitnessKey(); return said(len(k), err) },
		"SetUpBackup": func(m *Mill) string {
			return said(m.SetUpBackup(ctx, NewID(), aFolderOfBackups("/mnt/theirs"), "", sam, at))
		},
		"SwitchBackup": func(m *Mill) string { return said(m.SwitchBackup(ctx, NewID(), h.Backup, false, sam, at)) },
		"RemoveBackup": func(m *Mill) string { return said(m.RemoveBackup(ctx, NewID(), h.Backup, sam, at)) },
		"Backups":      func(m *Mill) string { b, err := m.Backups(ctx); return said(len(b), err) },
		"BackupSecret": func(m *Mill) string { return said(m.BackupSecret(ctx, h.Backup)) },
		"KeepBackupState": func(m *Mill) string {
			return said(m.KeepBackupState(ctx, h.Backup, checklists.BackupState{Wrong: "theirs"}))
		},
		"RevokeToken":    func(m *Mill) string { return said(m.RevokeToken(ctx, NewID(), h.Token, sam, at)) },
		"Tokens":         func(m *Mill) string { return said(m.Tokens(ctx)) },
		"TokenFor":       func(m *Mill) string { return said(m.TokenFor(ctx, [32]byte{8}, six)) },
		"WrongToken":     func(m *Mill) string { return said(m.WrongToken(ctx, "10.0.0.7", slowly(), six)) },
		"InspectionPage": func(m *Mill) string { return said(m.InspectionPage(ctx, "", 0, 9)) },
		"InspectWhole":   func(m *Mill) string { return said(m.InspectWhole(ctx, NewID(), "short", 7, nil, ada, at)) },
		"KeepProgram":    func(m *Mill) string { return said(m.KeepProgram(ctx, NewID(), goodProgram(), sam, at)) },
		"Program":        func(m *Mill) string { p, err := m.Program(ctx); p.At, p.By = time.Time{}, ""; return said(p, err) },
		"Standing": func(m *Mill) string {
			s, err := m.Standing(ctx, ada, procedures.Procedure{ID: "hoist"})
			return said(s, err)
		},
		"KeepTask": func(m *Mill) string { return said(m.KeepTask(ctx, NewID(), "", oiled(), sam, at)) },
		"EnterStarterTasks": func(m *Mill) string {
			return said(m.EnterStarterTasks(ctx, NewID(), []procedures.Task{{ID: "try-stops", Title: "Theirs"}}, sam, at))
		},
		"Tasks":             func(m *Mill) string { return said(m.Tasks(ctx)) },
		"Task":              func(m *Mill) string { return said(m.Task(ctx, "try-stops")) },
		"Renewal":           func(m *Mill) string { return said(m.Renewal(ctx, "hoist", 2)) },
		"ProceduresInForce": func(m *Mill) string { return said(m.ProceduresInForce(ctx)) },
		"KeepCoast": func(m *Mill) string {
			return said(m.KeepCoast(ctx, NewID(), "head-saw", procedures.CoastMeasured{Energy: "saw-rotation", Seconds: 80, By: ada.ID, At: six, How: "theirs"}, sam, at))
		},
		"Coasts": func(m *Mill) string { c, err := m.Coasts(ctx); return said(len(c), err) },
		"Declare": func(m *Mill) string {
			return said(m.Declare(ctx, NewID(), procedures.Declaration{Equipment: "hoist", FullyDead: true}, sam, at))
		},
		"Exception": func(m *Mill) string {
			parts, d, err := m.Exception(ctx, "hoist")
			return said(len(parts), d.FullyDead, err)
		},
		"EditRegister": func(m *Mill) string {
			return said(m.EditRegister(ctx, NewID(), "mark", "hoist", sam, at, func(p procedures.Plant) (procedures.Plant, error) { return p, nil }))
		},
		"Affected": func(m *Mill) string { return said(m.Affected(ctx)) },
		"PhotoSize": func(m *Mill) string {
			width, height, err := m.PhotoSize(ctx, h.Photo)
			return said(width, height, err)
		},
		"Answered":    func(m *Mill) string { return said(m.Answered(ctx, "person "+string(ada.ID))) },
		"UntoldLocks": func(m *Mill) string { return said(m.UntoldLocks(ctx, ada.ID)) },
		"LockoutDepartures": func(m *Mill) string {
			return said(m.LockoutDepartures(ctx, procedures.Lockout{ID: h.Lockout}))
		},
		"SignedDays":     func(m *Mill) string { return said(m.SignedDays(ctx, "2026-01-01", "2026-12-31")) },
		"InspectionsDue": func(m *Mill) string { return said(m.InspectionsDue(ctx, at)) },
		"ProgramState":   func(m *Mill) string { return said(m.ProgramState(ctx, at)) },
		"LockoutEvents":  func(m *Mill) string { return said(m.LockoutEvents(ctx, NewID(), h.Lockout, events, ada, at)) },
	}
}

// millRows is every row of every table that carries the mill's id.
func millRows(t *testing.T, s *Store, mill checklists.MillID) map[string][]string {
	t.Helper()
	rows := map[string][]string{}
	for _, table := range tables(t, s.reads) {
		if column := millColumn(table); column != "" {
			rows[table] = dump(t, s.reads, "SELECT * FROM "+table+" WHERE "+column+" = ? ORDER BY 1, 2", mill)
		}
	}
	return rows
}

// Two mills in one file: what one of them is answered is what it would be
// answered alone, and nothing it does touches a row of the other, although it
// knows every id there and its people have the same ones.
func TestMillsInOneDatabaseKnowNothingOfEachOther(t *testing.T) {
	scratchdb.SQLiteOnly(t, "a store sees one mill, see TestAMillSeesNothingOfAnother")
	shared := newMill(t)
	h := fill(t, shared)
	alone := settle(t, openFor(t, neighbour), neighbour)
	beside := settle(t, shared.s, neighbour)

	table := calls(t.Context(), h)
	names := make([]string, 0, len(table))
	for name := range table {
		names = append(names, name)
	}
	slices.Sort(names)
	var methods []string
	for i := range reflect.TypeFor[*Mill]().NumMethod() {
		methods = append(methods, reflect.TypeFor[*Mill]().Method(i).Name)
	}
	require.Equal(t, methods, names, "every method of a Mill is called here")

	before := millRows(t, shared.s, fernhollow)
	for table, rows := range before {
		if table != "search_gaps" { // has a row only until an older database's words are filled in
			assert.NotEmpty(t, rows, "%s: a table without a row proves nothing", table)
		}
	}
	for i, name := range names {
		require.Equal(t, table[name](alone), table[name](beside), name)
		if sample.Has(len(names)-1-i, 8) {
			require.Equal(t, before, millRows(t, shared.s, fernhollow), "after %s or one before it", name)
		}
	}
	clean(t, shared.s)
}
