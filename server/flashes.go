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
	case "step":
		return plain.Say("Kept.")
	case "published":
		return plain.Say("In force from now on.")
	case "draft":
		return plain.Say("The draft is kept. It is not in force until you publish it.")
	case "person":
		return plain.Say("Kept.")
	case "own-pin":
		return plain.Say("Your new PIN or password is kept, and you are signed out everywhere. Sign in with the new one.")
	case "clock":
		return plain.Say("The clock is confirmed. Checks dated later than now count for no shift.")
	case "mill":
		return plain.Say("Kept.")
	case "equipment":
		return plain.Say("Kept.")
	}
	return plain.Sentence{}
}
