package server

import (
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// actWords names an act on the link that leads to its form.
func actWords(act string) plain.Sentence {
	switch act {
	case actWork:
		return plain.Say("Begin the work")
	case actJoin:
		return plain.Say("Join with your own lock")
	case actVerify:
		return plain.Say("Prove zero again")
	case actLeave:
		return plain.Say("Take your lock off and leave the job")
	case actOvernight:
		return plain.Say("Leave it locked on purpose, for the night or longer")
	case actEnd:
		return plain.Say("End the work and give the machine back")
	case actRestore:
		return plain.Say("Report it back in service")
	case actCancel:
		return plain.Say("Cancel: no lock has been on")
	}
	return plain.Say("Back to the present steps")
}

// actButton is what the button of an act's form says.
func actButton(act string) plain.Sentence {
	switch act {
	case actSteps:
		return plain.Say("Report what is ticked")
	case actWork:
		return plain.Say("Begin the work")
	case actJoin:
		return plain.Say("My lock is on; join")
	case actVerify:
		return plain.Say("Report zero proven again")
	case actLeave:
		return plain.Say("My lock is off; leave")
	case actOvernight:
		return plain.Say("Leave it locked")
	case actEnd:
		return plain.Say("End the work")
	case actRestore:
		return plain.Say("Report it back in service")
	}
	return plain.Say("Cancel this lockout")
}

// signature is what the signer of an act says; nothing where none is asked.
func (v *visit) signature(l procedures.Lockout, act string) plain.Sentence {
	switch act {
	case actSteps:
		return v.stepsSignature(l)
	case actWork:
		return plain.Say("My own lock is on every device, and I have seen every energy at zero.")
	case actJoin:
		return plain.Say("I put this lock on myself, and its key is in my pocket.")
	case actVerify:
		return plain.Say("I did each of these again myself, under my own lock.")
	case actLeave:
		return plain.Say("I am out of the machine, my tools too, and I took my own lock off myself.")
	case actOvernight:
		return plain.Say("My own lock stays on every device on purpose. Everything is proven again before anybody reaches in.")
	case actEnd:
		return plain.Say("The work is over, mine and that of everybody signed on.")
	case actCancel:
		return plain.Say("No lock of mine is on and nobody has begun. The machine is let go as it was.")
	case actRestore:
		return plain.Say("All locks are off, everybody is told, and the machine is back in service.")
	}
	return plain.Sentence{}
}

func (v *visit) stepsSignature(l procedures.Lockout) plain.Sentence {
	switch l.Stage {
	case procedures.Apply:
		return plain.Say("I put these locks on myself, and their keys are in my pocket.")
	case procedures.Verify:
		return plain.Say("I did what is ticked and saw it at zero.")
	case procedures.RemoveLocks:
		return plain.Say("These are my own locks, and I took them off myself.")
	}
	return plain.Sentence{}
}
