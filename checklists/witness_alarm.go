package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// AlarmID names one alarm.
type AlarmID string

// AlarmWhy is in what a witness does not agree with the record.
type AlarmWhy string

const (
	AlarmForked   AlarmWhy = "forked"   // the record does not go on from what it holds
	AlarmLonger   AlarmWhy = "longer"   // it holds more entries than the record has
	AlarmUnsigned AlarmWhy = "unsigned" // what lies there is not what this mill put there
)

// WitnessAlarm says that what a witness holds does not agree with the record. It
// stands until a supervisor closes it with a reason, and keeps nobody from work:
// the record may have been changed, the saw was not.
type WitnessAlarm struct {
	ID      AlarmID     `json:"id"`
	Witness WitnessID   `json:"witness"`
	Kind    WitnessKind `json:"kind"`
	Why     AlarmWhy    `json:"why"`

	HeldSize int64     `json:"held_size"` // entries in what the witness holds, 0 where it can't be told
	HeldRoot string    `json:"held_root"` // "" where the witness does not say
	OwnSize  int64     `json:"own_size"`  // of the record when it was raised
	OwnRoot  string    `json:"own_root"`
	Raised   time.Time `json:"raised"`

	Closed time.Time           `json:"closed"`
	By     procedures.PersonID `json:"by"`
	Reason string              `json:"reason"`
}

// Open tells whether the alarm stands.
func (a WitnessAlarm) Open() bool { return a.Closed.IsZero() }

// Said says what does not agree.
func (a WitnessAlarm) Said() plain.Sentence {
	switch a.Why {
	case AlarmLonger:
		return plain.Say("A witness (%[1]s) holds a checkpoint of %[2]d entries, and the record has %[3]d. Entries are gone, or an older copy of the database was put back.", a.Kind.Words(), a.HeldSize, a.OwnSize)
	case AlarmUnsigned:
		return plain.Say("What lies at a witness (%s) is not a checkpoint signed with a key of this mill. Somebody put it there, or it was damaged.", a.Kind.Words())
	}
	return plain.Say("A witness (%[1]s) holds a checkpoint of %[2]d entries, and the record of %[3]d does not go on from it. Entries before that were changed, or an older copy of the database was put back and written on.", a.Kind.Words(), a.HeldSize, a.OwnSize)
}

// Close ends the alarm. Its error is a [plain.Problems] for "reason", or a
// [plain.Refusal].
func (a WitnessAlarm) Close(reason string, by procedures.Person, now time.Time) (WitnessAlarm, error) {
	switch {
	case !by.Supervises():
		return WitnessAlarm{}, plain.Refuse("", "Only a supervisor or deputy may do this; ask one to sign in.")
	case !a.Open():
		return WitnessAlarm{}, plain.Refuse("", "This alarm was closed already.")
	}
	a.Reason = strings.TrimSpace(reason)
	var bad plain.Problems
	bad.Unless(worded(a.Reason, LongestText), "reason", "what you found and what follows from it, in at most %d letters", LongestText)
	if err := bad.Err(); err != nil {
		return WitnessAlarm{}, err
	}
	a.Closed, a.By = now, by.ID
	return a, nil
}

// WitnessAnswer is what came of the last try with a witness.
type WitnessAnswer string

const (
	WitnessUntried     WitnessAnswer = ""
	WitnessTook        WitnessAnswer = "took"         // it has the checkpoint
	WitnessTookAgain   WitnessAnswer = "took-again"   // and has lost one it had
	WitnessQueued      WitnessAnswer = "queued"       // the mail is in the outbox
	WitnessDisagrees   WitnessAnswer = "disagrees"    // an alarm was raised
	WitnessUnreached   WitnessAnswer = "unreached"    // there was no answer, or the folder is not there
	WitnessUnknownLog  WitnessAnswer = "unknown-log"  // it does not know this mill
	WitnessUnknownKey  WitnessAnswer = "unknown-key"  // nor the key
	WitnessNoSignature WitnessAnswer = "no-signature" // it took it, and did not sign with its key
	WitnessStrange     WitnessAnswer = "strange"      // an answer no witness gives
	WitnessNoMail      WitnessAnswer = "no-mail"      // mail is not set up
	WitnessNoKey       WitnessAnswer = "no-key"       // the mill's own key is not here
)

// Good tells whether the answer is one to be content with.
func (a WitnessAnswer) Good() bool {
	return a == WitnessTook || a == WitnessTookAgain || a == WitnessQueued
}

// Said says what came of it; why is what the computer said, if anything.
func (a WitnessAnswer) Said(why string) plain.Sentence {
	switch a {
	case WitnessUntried:
		return plain.Say("Not tried yet.")
	case WitnessTook:
		return plain.Say("It has the checkpoint.")
	case WitnessTookAgain:
		return plain.Say("It has the checkpoint, but no longer the one of %s entries it had before. Find out who took it away.", why)
	case WitnessQueued:
		return plain.Say("The mail is in the outbox.")
	case WitnessDisagrees:
		return plain.Say("What it holds does not agree with the record. Nothing was sent and nothing was overwritten.")
	case WitnessUnknownLog:
		return plain.Say("It does not know this mill. Its supervisor enters this mill's key there.")
	case WitnessUnknownKey:
		return plain.Say("It knows this mill, but not the key in use. Its supervisor adds the new key there.")
	case WitnessNoSignature:
		return plain.Say("It answered without a signature of the key entered here. Compare the key with the one on its own page.")
	case WitnessStrange:
		return plain.Say("It gave an answer that no witness gives: %s.", why)
	case WitnessNoMail:
		return plain.Say("Mail is not set up, so nothing goes out.")
	case WitnessNoKey:
		return plain.Say("This mill's own key is not on this computer, so there is no checkpoint to send.")
	}
	return plain.Say("It could not be reached: %s.", why)
}
