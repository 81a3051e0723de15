package server

import "stillsaw/procedures/plain"

// flash is what the act before a page did, by the word in its address: an
// address must not be able to put words of its own on the page.
func flash(done string) plain.Sentence {
	switch done {
	case "set-up":
		return plain.Say("The mill is set up. Nothing is in force yet: read each starter below, change what is not so at your mill, and publish it.")
	case "stopped":
		return plain.Say("Held. Everybody sees it now. Say what is wrong, if you can.")
	case "described":
		return plain.Say("Kept.")
	case "signed":
		return plain.Say("Signed and on the record.")
	case "amended":
		return plain.Say("Answered again, signed and on the record. What was signed before stays as it was.")
	case "run-check":
		return plain.Say("Run check allowed. Give the warning, see everybody clear, then start.")
	case "mended":
		return plain.Say("Reported as mended. Another person returns it to service.")
	case "returned":
		return plain.Say("Returned to service, on the record.")
	case "departure":
		return plain.Say("Entered. The equipment is held until a supervisor closes it.")
	case "closed":
		return plain.Say("Closed with your reason. It stays on the record.")
	case "lift":
		return plain.Say("The lift is kept on the record.")
	case "run":
		return plain.Say("The piece is kept on the record with this check. Lift it as answered.")
	case "run-refused":
		return plain.Say("NO-GO: not every question was answered with yes. It is kept on the record; do not lift.")
	case "shocked":
		return plain.Say("The hoist is held. Everybody sees it now. The gear is inspected, reported here and returned to service before it lifts again.")
	case "weighed":
		return plain.Say("The reading is kept. It counts from the next lift of such wood on.")
	case "lighter":
		return plain.Say("Signed and on the record. It counts from the next lift of such wood on.")
	case "gear":
		return plain.Say("Signed and on the record. It counts from the next lift on.")
	case "begun":
		return plain.Say("Begun. The equipment is held from now until it is reported back in service.")
	case "restored":
		return plain.Say("Reported back in service. Checks and defects may still hold it.")
	case "taken-over":
		return plain.Say("You answer for this lockout from now on. The one going off takes the own lock off and leaves.")
	case "test-on":
		return plain.Say("Reported under power for a test. Nobody is protected.")
	case "test-over":
		return plain.Say("The test is over. Everything is isolated, locked and proven again before anybody reaches in.")
	case "told":
		return plain.Say("Kept. Before you work, put your own lock on again and prove zero.")
	case "step":
		return plain.Say("Kept.")
	case "tasks":
		return plain.Say("Entered. Read each: what is said to be production counts as servicing until you answer for it.")
	case "task":
		return plain.Say("Kept and signed.")
	case "published":
		return plain.Say("In force from now on.")
	case "task-removed":
		return plain.Say("The task is off the list. What was kept of it stays on the record; done again, it is servicing and needs a lockout.")
	case "discarded":
		return plain.Say("The draft is gone. What is in force stays as it is.")
	case "draft":
		return plain.Say("The draft is kept. It is not in force until you publish it.")
	case "person":
		return plain.Say("Kept.")
	case "own-pin":
		return plain.Say("Your new PIN or password is kept, and you are signed out everywhere. Sign in with the new one.")
	case "clock":
		return plain.Say("The clock is confirmed. Checks dated later than now count for no shift.")
	case "training":
		return plain.Say("The training is entered, signed and on the record.")
	case "lock":
		return plain.Say("The lock is kept on the record.")
	case "contractor":
		return plain.Say("The firm is kept on the record.")
	case "program":
		return plain.Say("The program is signed and on the record.")
	case "procedure-inspected":
		return plain.Say("The certificate is signed and on the record. It stays as it is.")
	case "seen-to":
		return plain.Say("Reported seen to, on the record.")
	case "mill":
		return plain.Say("Kept.")
	case "register":
		return plain.Say("Kept. Procedures in force keep what they were published with: look below whether one is to be renewed.")
	case "coast":
		return plain.Say("Kept. The longest of the last three counts, and goes into the next draft.")
	case "declared":
		return plain.Say("Signed and on the record.")
	case "equipment":
		return plain.Say("Kept.")
	}
	return plain.Sentence{}
}
