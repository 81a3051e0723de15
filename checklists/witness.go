package checklists

import (
	"net/netip"
	"net/url"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// WitnessID names one witness of the record.
type WitnessID string

// WitnessKind is what keeps the checkpoints of the record. The zero value is none
// and refused.
type WitnessKind string

const (
	WitnessFolder   WitnessKind = "folder"   // on another disk, or on another computer
	WitnessMail     WitnessKind = "mail"     // a mailbox, once a day
	WitnessStillsaw WitnessKind = "stillsaw" // another mill's Stillsaw, or any witness that speaks C2SP tlog-witness
	WitnessOther    WitnessKind = "other"    // in entries: a mill this Stillsaw is the witness of
)

// Words names the kind.
func (k WitnessKind) Words() plain.Sentence {
	switch k {
	case WitnessFolder:
		return plain.Say("a folder")
	case WitnessMail:
		return plain.Say("a mailbox")
	case WitnessStillsaw:
		return plain.Say("another Stillsaw")
	case WitnessOther:
		return plain.Say("the record of another mill")
	}
	return plain.Say("a witness of a kind not known here")
}

// Witness is somebody or something that keeps the checkpoints of the record where
// whoever changes the record can't reach them. Place says where and goes into no
// entry.
type Witness struct {
	ID       WitnessID           `json:"id"`
	Kind     WitnessKind         `json:"kind"`
	Place    string              `json:"place"`    // path, e-mail address, or http address
	Verifier string              `json:"verifier"` // of another Stillsaw: its witness key
	On       bool                `json:"on"`
	By       procedures.PersonID `json:"by"`
	At       time.Time           `json:"at"`
}

// wholePath tells whether a path leads from the root, of a drive or a share in
// the way of Windows too: which of them the server's PC knows, only trying shows.
func wholePath(path string) bool {
	drive := len(path) >= 3 && path[1] == ':' && (path[0]|0x20 >= 'a' && path[0]|0x20 <= 'z') && (path[2] == '\\' || path[2] == '/')
	return drive || strings.HasPrefix(path, "/") || strings.HasPrefix(path, `\\`)
}

// placeMost is how long a path or an address may be.
const placeMost = 1000

// SetUp returns the witness as by sets it up at now, switched on; of w its kind,
// place and key count. Its error is a [plain.Problems] for "kind" and "place", or
// a [plain.Refusal]. Whether the place can be reached, and whether the key is one,
// only trying shows.
func (w Witness) SetUp(id WitnessID, by procedures.Person, now time.Time) (Witness, error) {
	if !by.Supervises() {
		return Witness{}, plain.Refuse("", "Only a supervisor or deputy may do this; ask one to sign in.")
	}
	made := Witness{ID: id, Kind: w.Kind, Place: strings.TrimSpace(w.Place), On: true, By: by.ID, At: now}
	var bad plain.Problems
	switch w.Kind {
	case WitnessFolder:
		bad.Unless(wholePath(made.Place) && len(made.Place) <= placeMost && !strings.ContainsRune(made.Place, 0), "place", "the whole path of a folder, from the root or the drive letter on")
	case WitnessMail:
		bad.Unless(MailAddress(made.Place), "place", "an e-mail address, such as name@example.com")
	case WitnessStillsaw:
		made.Verifier = strings.TrimSpace(w.Verifier)
		made.Place = strings.TrimRight(made.Place, "/")
		bad.Unless(WitnessAddress(made.Place), "place", "an address that begins with http:// or https://, such as http://192.168.1.20:8090/witness")
	default:
		bad.Unless(false, "kind", "a folder, a mailbox or another Stillsaw")
	}
	if err := bad.Err(); err != nil {
		return Witness{}, err
	}
	return made, nil
}

// WitnessAddress tells whether address can be where another Stillsaw is asked: of
// http or https, with a host, without a name, a query or a fragment in it.
func WitnessAddress(address string) bool {
	at, err := url.Parse(address)
	if err != nil || len(address) > placeMost || at.Scheme != "http" && at.Scheme != "https" || at.User != nil || at.RawQuery != "" || at.ForceQuery || at.Fragment != "" || strings.Contains(address, "#") {
		return false
	}
	host := at.Hostname()
	_, notIP := netip.ParseAddr(host)
	return host != "" && at.Opaque == "" && (notIP == nil || !strings.ContainsFunc(host, notOfAHost))
}

// WitnessedLog is the record of another mill that this Stillsaw is a witness of,
// by the keys its checkpoints are signed with. Origin is the name in them.
type WitnessedLog struct {
	Origin   string              `json:"origin"`
	Name     string              `json:"name"` // as people here call that mill
	Verifier []string            `json:"verifier"`
	By       procedures.PersonID `json:"by"`
	At       time.Time           `json:"at"`

	Removed time.Time `json:"removed,omitzero"` // since when it is a witness of it no more
}

// Enter returns the log as by enters it at now. Its error is a [plain.Problems]
// for "name" and "verifier", or a [plain.Refusal]. That the keys are keys, and of
// one name, the caller has seen to.
func (l WitnessedLog) Enter(by procedures.Person, now time.Time) (WitnessedLog, error) {
	if !by.Supervises() {
		return WitnessedLog{}, plain.Refuse("", "Only a supervisor or deputy may do this; ask one to sign in.")
	}
	l.Name = strings.TrimSpace(l.Name)
	var bad plain.Problems
	bad.Unless(worded(l.Name, LongestText), "name", "what that mill is called, in at most %d letters", LongestText)
	bad.Unless(l.Origin != "" && len(l.Verifier) > 0 && len(l.Verifier) <= 20, "verifier", "the key that mill's checkpoints are signed with")
	if err := bad.Err(); err != nil {
		return WitnessedLog{}, err
	}
	l.By, l.At, l.Removed = by.ID, now, time.Time{}
	return l, nil
}
