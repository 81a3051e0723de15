package server

import (
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// lockoutProgram says what an entry about training, locks, inspections of
// procedures, firms from outside or the program reports, and where it is shown.
func (t teller) lockoutProgram(body any) (plain.Sentence, bool) {
	switch body := body.(type) {
	case procedures.Training:
		return t.training(body), true
	case procedures.ProcedureInspection:
		return t.procedureInspection(body), true
	case procedures.ActionDone:
		return plain.Say("What an inspection of a procedure found is reported seen to: %s", body.Note), true
	case procedures.LockItem:
		return t.lockItem(body), true
	case procedures.Contractor:
		return contractorSaid(body), true
	case procedures.Program:
		return plain.Say("The mill's program of energy control as it is from now on; %s answers for it.", t.who(body.InCharge)), true
	}
	return plain.Sentence{}, false
}

func (t teller) training(tr procedures.Training) plain.Sentence {
	switch {
	case tr.OwnWord:
		return plain.Say("%[1]s declares their own training, %[2]s.", t.who(tr.Person), tr.Level.Words())
	case tr.Again:
		return plain.Say("%[1]s trained again, %[2]s, by %[3]s: %[4]s", t.who(tr.Person), tr.Level.Words(), tr.Trainer, tr.Covered)
	}
	return plain.Say("%[1]s trained, %[2]s, by %[3]s.", t.who(tr.Person), tr.Level.Words(), tr.Trainer)
}

func (t teller) procedureInspection(in procedures.ProcedureInspection) plain.Sentence {
	inspector := t.who(in.Inspector)
	if in.Inspector == "" {
		inspector = plain.Say("%[1]s of %[2]s", in.Outside, in.Firm)
	}
	return plain.Say("The procedure for %[1]s, version %[2]d, inspected by %[3]s, %[4]s.", t.machines(in.Equipment), in.Version, inspector, plain.Say("%d findings", len(in.Findings)))
}

func (t teller) lockItem(item procedures.LockItem) plain.Sentence {
	switch {
	case !item.Retired.IsZero():
		return plain.Say("Lock %s retired; its number isn't used again.", item.Number)
	case item.Condition != procedures.LockGood:
		return plain.Say("Lock %[1]s of %[2]s reported as not good.", item.Number, t.who(item.Owner))
	}
	return plain.Say("Lock %[1]s is the own lock of %[2]s.", item.Number, t.who(item.Owner))
}

func contractorSaid(c procedures.Contractor) plain.Sentence {
	if c.OursGiven.IsZero() || c.TheirsSeen.IsZero() {
		return plain.Say("%s, a firm from outside; lockout procedures not yet exchanged.", c.Firm)
	}
	return plain.Say("%s, a firm from outside; lockout procedures exchanged.", c.Firm)
}

// programKindWords names these kinds of entry, for headings and the filter.
func programKindWords(kind string) (plain.Sentence, bool) {
	switch kind {
	case store.KindTraining:
		return plain.Say("Training"), true
	case store.KindProcedureInspected:
		return plain.Say("Procedure inspected"), true
	case store.KindFindingSeenTo:
		return plain.Say("Finding seen to"), true
	case store.KindLock:
		return plain.Say("Lock"), true
	case store.KindContractor:
		return plain.Say("Firm from outside"), true
	case store.KindProgram:
		return plain.Say("Energy control program"), true
	case store.KindEmergencyCard:
		return plain.Say("Emergency card"), true
	case store.KindTask:
		return plain.Say("Task"), true
	}
	return plain.Sentence{}, false
}

// task says what a job counts as.
func (t teller) task(task procedures.Task) plain.Sentence {
	switch {
	case task.Removed:
		return plain.Say("The task %[1]s: %[2]s is taken off the list. Done again, it is servicing.", t.machines(task.Equipment), task.Title)
	case task.By != "":
		return plain.Say("The task %[1]s: %[2]s, %[3]s; %[4]s answers for it.", t.machines(task.Equipment), task.Title, task.Kind.Words(), t.who(task.By))
	case task.Kind == procedures.Servicing:
		return plain.Say("The task %[1]s: %[2]s, %[3]s.", t.machines(task.Equipment), task.Title, task.Kind.Words())
	}
	return plain.Say("The task %[1]s: %[2]s; nobody has answered for it yet, so it is servicing.", t.machines(task.Equipment), task.Title)
}
