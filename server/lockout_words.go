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
	case actLocks:
		return plain.Say("Put your own lock on more devices")
	case actRecheck:
		return plain.Say("Prove again what can build up")
	case actHandOver:
		return plain.Say("Take this lockout over")
	case actToEnd:
		return plain.Say("Take it to its end for somebody who is not here")
	case actTest:
		return plain.Say("Test or position: everybody and everything out first")
	case actOff:
		return plain.Say("Take your own locks off")
	case actEnergize:
		return plain.Say("Power on for the test")
	case actTestEnd:
		return plain.Say("End the test, or give it up")
	case actAbsent:
		return plain.Say("Take off the lock of somebody who is not here")
	case actTold:
		return plain.Say("Your lock was taken off")
	case actLeave:
		return plain.Say("Take your lock off and leave the job")
	case actOvernight:
		return plain.Say("Leave it locked on purpose, for the night or longer")
	case actEnd:
		return plain.Say("End the work and give the machine back")
	case actCallOff:
		return plain.Say("Call it off: locks off in order")
	case actBack:
		return plain.Say("Back to work: something is left to do")
	case actDone:
		return plain.Say("The test went well: the work is done")
	case actLater:
		return plain.Say("It takes longer: put the expected end off")
	case actRestore:
		return plain.Say("Report it back in service")
	case actCancel:
		return plain.Say("Cancel: no lock has been on")
	}
	return plain.Say("Back to the present steps")
}

// actButton is what the button of an act's form says.
func actButton(l procedures.Lockout, act string) plain.Sentence {
	switch act {
	case actSteps:
		return plain.Say("Report what is ticked")
	case actWork:
		return plain.Say("Begin the work")
	case actJoin:
		return plain.Say("My lock is on; join")
	case actVerify:
		return plain.Say("Report zero proven again")
	case actLocks:
		return plain.Say("My locks are on")
	case actRecheck:
		return plain.Say("Report it proven again")
	case actHandOver:
		return plain.Say("Take it over")
	case actToEnd:
		return plain.Say("I take it to its end")
	case actTest:
		return plain.Say("Everything and everybody is out")
	case actOff:
		return plain.Say("My locks are off")
	case actEnergize:
		return plain.Say("Report power on")
	case actTestEnd:
		if l.Test == procedures.TestEnergized {
			return plain.Say("The test is over")
		}
		return plain.Say("Give the test up")
	case actAbsent:
		return plain.Say("Report the lock taken off")
	case actTold:
		return plain.Say("I know it")
	case actLeave:
		return plain.Say("My lock is off; leave")
	case actOvernight:
		return plain.Say("Leave it locked")
	case actEnd:
		return plain.Say("End the work")
	case actCallOff:
		return plain.Say("Call it off")
	case actBack:
		return plain.Say("Back to work")
	case actDone:
		return plain.Say("The work is done")
	case actLater:
		return plain.Say("Put the end off")
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
		return plain.Say("My own lock is on every device, or on the box with its keys in it, and I have seen every energy at zero.")
	case actJoin:
		return plain.Say("I put this lock on myself, and its key is in my pocket.")
	case actVerify:
		return plain.Say("I did each of these again myself, under my own lock.")
	case actLocks:
		return plain.Say("I put these locks on myself, and their keys are in my pocket.")
	case actRecheck:
		return plain.Say("I proved what is ticked at zero again myself, under my own lock.")
	case actHandOver:
		return plain.Say("My own lock is on every device, or on the box with its keys in it, I have proven zero myself and was told how things stand. I answer for this lockout from now on.")
	case actToEnd:
		return plain.Say("The one who answers for it is not at the mill. I answer for it from now on: no work, only the release, in its order.")
	case actTest:
		return plain.Say("Tools and people are out of the machine. Nobody reaches in until everything is isolated, locked and proven again.")
	case actOff:
		return plain.Say("These are my own locks, and I took them off myself. They protect me no longer.")
	case actEnergize:
		return plain.Say("Everybody is clear, and I give power for the test now. Nobody is protected.")
	case actTestEnd:
		if l.Test != procedures.TestEnergized {
			return plain.Say("The test is given up. Everything is shut down, isolated, locked and proven again before anybody reaches in.")
		}
		return plain.Say("The test is over. Everything is shut down, isolated, locked and proven again before anybody reaches in.")
	case actAbsent:
		return plain.Say("I made sure the owner is not at the mill and tried to reach them. I took the lock off by the mill's written procedure, and the owner is told before they work here again.")
	case actTold:
		return plain.Say("I know that my lock was taken off while I was away.")
	case actLeave:
		return plain.Say("I am out of the machine, my tools too, and I took my own lock off myself.")
	case actOvernight:
		return plain.Say("My own lock stays on every device on purpose. Everything is proven again before anybody reaches in.")
	case actEnd:
		return plain.Say("The work is over, mine and that of everybody signed on.")
	case actCallOff:
		return plain.Say("Nobody has worked in the machine. The locks that are on come off in order before anything is given back.")
	case actBack:
		if len(l.LocksOn()) == 0 {
			return plain.Say("Something is left to do. Nobody reaches in before everything is shut down, isolated, locked and proven again.")
		}
		return plain.Say("Something is left to do. Nobody reaches in before proving zero again under their own lock.")
	case actDone:
		return plain.Say("The test is over and the work is done. Nobody is in the machine, no tool either, and nobody reaches in: no lock is on.")
	case actLater:
		return plain.Say("The work goes on, and I answer for it.")
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
