package server

import "stillsaw/procedures/plain"

// flash is what the act before a page did, by the word in its address: an
// address must not be able to put words of its own on the page.
func flash(done string) plain.Sentence {
	switch done {
	case "set-up":
		return plain.Say("The mill is set up. Nothing is in force yet: read each starter below, change what is not so at your mill, and publish it.")
	case "new-key":
		return plain.Say("The key is replaced, signed and on the record. Note the new fingerprint with the next checkpoint you keep.")
	case "stopped":
		return plain.Say("Held. Everybody sees it now. Say what is wrong, if you can.")
	case "assigned":
		return plain.Say("Given, signed and on the record. It stays as it is until it is mended.")
	case "redated":
		return plain.Say("The date is changed, signed and on the record.")
	case "noted":
		return plain.Say("Written down.")
	case "incident":
		return plain.Say("Entered and on the record. What it holds stays held until somebody has looked.")
	case "action":
		return plain.Say("Given, signed and on the record.")
	case "harm":
		return plain.Say("Entered and on the record.")
	case "action-done":
		return plain.Say("Reported done, on the record.")
	case "described":
		return plain.Say("Kept.")
	case "signed":
		return plain.Say("Signed and on the record.")
	case "aside":
		return plain.Say("On the record: it is not to be signed. What it checks stays held until somebody has gone through the list anew and signed.")
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
		return plain.Say("You answer for this lockout from now on. The one going off takes their own lock off and leaves.")
	case "test-on":
		return plain.Say("Reported under power for a test. Nobody is protected.")
	case "test-over":
		return plain.Say("The test is over. Everything is isolated, locked and proven again before anybody reaches in.")
	case "told":
		return plain.Say("Kept. Before you work, put your own lock on again and prove zero.")
	case "told-over":
		return plain.Say("Kept: you know that your lock was taken off. This lockout is over.")
	case "asks-more":
		return plain.Say("Kept. An answer here asks for more: look below.")
	case "finished":
		return plain.Say("Kept, and not signed yet. What it checks is held until you sign.")
	case "lift-wait":
		return plain.Say("Kept as you typed it. It has no answer yet: look at it here.")
	case "wait-over":
		return plain.Say("It waits no more.")
	case "step":
		return plain.Say("Kept.")
	case "tasks":
		return plain.Say("Entered. Read each: what is said to be production counts as servicing until you answer for it.")
	case "task":
		return plain.Say("Kept and signed.")
	case "published":
		return plain.Say("In force from now on.")
	case "published-later":
		return plain.Say("Signed. It comes into force by itself at the time you gave; until then the version before stays.")
	case "imported":
		return plain.Say("The file is taken as a draft. It is not in force until you publish it.")
	case "imported-same":
		return plain.Say("The draft says the same as the file. Nothing had to be kept.")
	case "task-removed":
		return plain.Say("The task is off the list. What was kept of it stays on the record; done again, it is servicing and needs a lockout.")
	case "discarded":
		return plain.Say("The draft is gone. What is in force stays as it is.")
	case "draft":
		return plain.Say("The draft is kept. It is not in force until you publish it.")
	case "person":
		return plain.Say("Kept.")
	case "settings":
		return plain.Say("Kept. Pages look so from now on.")
	case "own-pin":
		return plain.Say("Your new PIN or password is kept, and you are signed out everywhere. Sign in with the new one.")
	case "signed-out-there":
		return plain.Say("You are signed out there.")
	case "clock":
		return plain.Say("The clock is confirmed. Checks dated later than now count for no shift.")
	case "training":
		return plain.Say("The training is entered, signed and on the record.")
	case "lock":
		return plain.Say("The lock is kept on the record.")
	case "blade":
		return plain.Say("The saw register is kept. It counts from now on.")
	case "safety":
		return plain.Say("Kept.")
	case "looked":
		return plain.Say("Entered, signed and on the record.")
	case "token-again":
		return plain.Say("This token was made before. If you did not copy it then, take it back and make another.")
	case "token-revoked":
		return plain.Say("Taken back. It opens nothing any more.")
	case "keep-for":
		return plain.Say("The time is set and on the record. What is older goes from the next night on.")
	case "hold":
		return plain.Say("The hold is set and on the record. Nothing it names is dropped.")
	case "hold-lifted":
		return plain.Say("The hold is lifted, on the record.")
	case "drop-run":
		return plain.Say("What was due is dropped, up to one night's share. The entries below say what went.")
	case "dropped":
		return plain.Say("It is dropped for good. The entry below says so.")
	case "minors":
		return plain.Say("Signed and on the record.")
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
	case "emergency":
		return plain.Say("The card is signed and on the record. Print it anew, and take the old one down.")
	case "mail":
		return plain.Say("Kept. Send a test to see whether it works.")
	case "mail-test":
		return plain.Say("The mail server took the test. Look whether it comes.")
	case "mail-retry":
		return plain.Say("They are tried again within a minute.")
	case "mail-end":
		return plain.Say("No more mail goes there; the address is gone.")
	case "mail-on":
		return plain.Say("Your reminders go to that address from now on.")
	case "mail-off":
		return plain.Say("No more mail goes to you; the address is gone.")
	case "witness":
		return plain.Say("Set up. Below it says whether it holds the record yet.")
	case "witness-took":
		return plain.Say("It works: it has the checkpoint.")
	case "witness-mail":
		return plain.Say("The mail is on its way. Look whether it comes.")
	case "witness-not":
		return plain.Say("It did not take the checkpoint. Below it says why.")
	case "witness-switched", "witness-removed", "witness-log", "witness-log-removed":
		return plain.Say("Done, signed and on the record.")
	case "backup":
		return plain.Say("Set up. The first backup is made within a minute; below it says what came of it.")
	case "backup-made":
		return plain.Say("A backup was made, read back and checked.")
	case "backup-not":
		return plain.Say("No backup was made. Below it says why.")
	case "backup-goes-on":
		return plain.Say("The backup is being made. Look again in a few minutes.")
	case "backup-switched", "backup-removed":
		return plain.Say("Done, signed and on the record.")
	case "alarm-closed":
		return plain.Say("Closed, with your reason on the record.")
	case "calendar-end":
		return plain.Say("That address has ended. Whoever still asks there gets nothing.")
	case "event":
		return plain.Say("Reported. What is due after it stands below.")
	case "event-unasked":
		return plain.Say("Reported. No list in force asks for a check after this; nothing is held by it.")
	case "excused":
		return plain.Say("The reason is signed and on the record.")
	case "starters":
		return plain.Say("The drafts are made. Read each, change what is not so at your mill, and publish it.")
	case "equipment":
		return plain.Say("Kept.")
	}
	return plain.Sentence{}
}
