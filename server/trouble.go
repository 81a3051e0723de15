package server

import (
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// troubleWords say what is wrong with the disk or the database and who does what
// about it, in words for whoever holds the phone. ok is false where nothing is.
func troubleWords(t store.Trouble) (title, do plain.Sentence, ok bool) {
	switch t {
	case store.DiskFull:
		return plain.Say("The server's disk is full"),
			plain.Say("Nothing more can be kept until there is room on it. Tell the supervisor to move files away that are not Stillsaw's. Stillsaw then goes on by itself."), true
	case store.DiskReadOnly:
		return plain.Say("The server's disk can't be written to"),
			plain.Say("Nothing more can be kept until it can. Tell the supervisor: somebody made it read-only, or it is failing. Stillsaw goes on by itself once it can be written to."), true
	case store.DiskFailing:
		return plain.Say("The server's disk does not answer as it should"),
			plain.Say("It could not be read or written. Tell the supervisor: the disk or its cable may be failing, and a backup on another disk is needed. Stillsaw goes on by itself once the disk answers."), true
	case store.InUse:
		return plain.Say("Another program keeps the record to itself"),
			plain.Say("Nothing more can be kept until it lets go. Tell the supervisor: another program has Stillsaw's database open, such as one that copies files or looks into databases. Stillsaw then goes on by itself."), true
	case store.Damaged:
		return plain.Say("The file of the record is damaged"),
			plain.Say("Enter nothing more. Tell the supervisor to stop Stillsaw, copy its folder, and put back the last good backup."), true
	}
	return plain.Sentence{}, plain.Sentence{}, false
}

// troubleMeanwhile is how the crew goes on while nothing can be kept.
func troubleMeanwhile(sent bool) plain.Sentence {
	if sent {
		return plain.Say("What you sent may or may not have been saved. When this is put right, load this page again to send the same once more: it is not entered twice. Until then go by paper, and tell everybody of a stop by voice.")
	}
	return plain.Say("Until then go by paper, and tell everybody of a stop by voice.")
}
