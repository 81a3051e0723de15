package checklists

import (
	"net/url"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// BackupID names one place of backups.
type BackupID string

// BackupKind is what sort of place backups go to. The zero value is none and
// refused.
type BackupKind string

const (
	BackupFolder BackupKind = "folder" // on another disk, or on another computer
	BackupS3     BackupKind = "s3"     // storage that speaks the S3 protocol
)

// Words names the kind.
func (k BackupKind) Words() plain.Sentence {
	switch k {
	case BackupFolder:
		return plain.Say("a folder")
	case BackupS3:
		return plain.Say("S3-compatible storage")
	}
	return plain.Say("a place of a kind not known here")
}

// BackupPlace is a place backups go to, how often and for how long. Where it is,
// and for whom they are encrypted, goes into no entry.
type BackupPlace struct {
	ID     BackupID   `json:"id"`
	Kind   BackupKind `json:"kind"`
	Place  string     `json:"place"`  // path, or https address with the bucket and a folder in it
	Region string     `json:"region"` // of S3; "" where the storage has none
	User   string     `json:"user"`   // access key of S3; its secret is kept apart

	Recipients []string `json:"recipients"` // of age; none: not encrypted

	Every int        `json:"every"` // minutes from one backup to the next
	Base  int        `json:"base"`  // hours from one whole copy to the next
	Keep  BackupKeep `json:"keep"`
	Warn  int        `json:"warn"` // hours without a good one after which it is said

	On bool                `json:"on"`
	By procedures.PersonID `json:"by"`
	At time.Time           `json:"at"`
}

// Bounds of what may be typed. A whole copy at least once a week bounds how many
// small ones a restore needs.
const (
	backupEveryMost  = 24 * 60
	backupBaseMost   = 7 * 24
	backupHoursMost  = 365 * 24
	backupDaysMost   = 3660
	backupMonthsMost = 1200
	backupGBMost     = 1_000_000
	backupWarnMost   = 365 * 24
)

// shortestPlace is how short a word may be that is taken out of an error: names of
// buckets have three letters and more, and a shorter one would take words apart.
const shortestPlace = 3

// NewBackupPlace is a place with what is usual where nobody says otherwise: a
// backup every 5 minutes, a whole copy a day, all of two days, one of each of 60
// days and one of each month for good, and a warning after 26 hours. Common
// practice, no source.
func NewBackupPlace() BackupPlace {
	return BackupPlace{Kind: BackupFolder, Every: 5, Base: 24, Keep: BackupKeep{Hours: 48, Days: 60}, Warn: 26}
}

// SetUp returns the place as by sets it up at now, switched on. Its error is a
// [plain.Problems] by field, or a [plain.Refusal]. Whether the place can be
// reached and the recipients are keys, only trying shows.
func (p BackupPlace) SetUp(id BackupID, by procedures.Person, now time.Time) (BackupPlace, error) {
	if !by.Supervises() {
		return BackupPlace{}, plain.Refuse("", "Only a supervisor or deputy may do this; ask one to sign in.")
	}
	p.ID, p.On, p.By, p.At = id, true, by.ID, now
	p.Place = strings.TrimSpace(p.Place)
	var bad plain.Problems
	switch p.Kind {
	case BackupFolder:
		bad.Unless(wholePath(p.Place) && len(p.Place) <= placeMost && !strings.ContainsRune(p.Place, 0), "place", "the whole path of a folder, from the root or the drive letter on")
		p.Region, p.User = "", ""
	case BackupS3:
		p.Place = strings.TrimRight(p.Place, "/")
		bad.Unless(WitnessAddress(p.Place) && strings.Count(p.Place, "/") > 2, "place", "an address with the bucket in it, such as https://s3.example.com/mill-backups")
		bad.Unless(p.User != "" && len(p.User) <= LongestText, "user", "the access key the storage gave you")
	default:
		bad.Unless(false, "kind", "a folder or S3-compatible storage")
	}
	bad.Unless(p.Every >= 1 && p.Every <= backupEveryMost, "every", "minutes, from 1 to %d", backupEveryMost)
	bad.Unless(p.Base >= 1 && p.Base <= backupBaseMost, "base", "hours, from 1 to %d", backupBaseMost)
	bad.Unless(p.Keep.Hours >= 1 && p.Keep.Hours <= backupHoursMost, "hours", "hours, from 1 to %d", backupHoursMost)
	bad.Unless(p.Keep.Days >= 0 && p.Keep.Days <= backupDaysMost, "days", "days, from 0 to %d", backupDaysMost)
	bad.Unless(p.Keep.Months >= 0 && p.Keep.Months <= backupMonthsMost, "months", "months, from 0 to %d", backupMonthsMost)
	bad.Unless(p.Keep.Most >= 0 && p.Keep.Most <= backupGBMost, "most", "gigabytes, from 0 to %d", backupGBMost)
	bad.Unless(p.Warn >= 1 && p.Warn <= backupWarnMost, "warn", "hours, from 1 to %d", backupWarnMost)
	if err := bad.Err(); err != nil {
		return BackupPlace{}, err
	}
	return p, nil
}

// WithoutPlace returns text without where the place is. What a disk or a storage
// answers repeats what a supervisor typed; that is for the page, and not for a log
// that is handed on.
func (p BackupPlace) WithoutPlace(text string) string {
	where := []string{p.Place, p.User}
	if at, err := url.Parse(p.Place); err == nil && p.Kind == BackupS3 {
		where = append(where, at.Host, at.Hostname())
		where = append(where, strings.Split(at.Path, "/")...) // a bucket may stand before the host
	}
	for _, word := range where {
		if len(word) >= shortestPlace {
			text = strings.ReplaceAll(text, word, "(its place)")
		}
	}
	return text
}

// BackupState is what came of the backups to one place.
type BackupState struct {
	Good    time.Time `json:"good,omitzero"` // of what moment the last good one is; zero for none
	Entries int64     `json:"entries"`       // in it
	Bytes   int64     `json:"bytes"`         // of it
	All     int64     `json:"all"`           // bytes of all that lie there
	Copies  int       `json:"copies"`        // how many they are
	Checked time.Time `json:"checked,omitzero"`
	Tried   time.Time `json:"tried,omitzero"` // last
	Wrong   string    `json:"wrong"`          // what the last try met, "" where it went well
	Over    bool      `json:"over,omitzero"`  // the newest alone is more than the bound
}

// Due tells whether a backup is to be made at now. A clock put back makes one due.
func (p BackupPlace) Due(s BackupState, now time.Time) bool {
	since := now.Sub(s.Tried)
	return p.On && (since < 0 || since >= time.Duration(p.Every)*time.Minute)
}

// BaseDue tells whether the next backup is to be a whole copy, the last having
// been made at last, zero for none.
func (p BackupPlace) BaseDue(last, now time.Time) bool {
	since := now.Sub(last)
	return since < 0 || since >= time.Duration(p.Base)*time.Hour
}

// Old tells whether the last good backup is older than was asked for: what was
// found unchanged since is as good as a new one. A place that never had one is
// old so long after it was set up.
func (p BackupPlace) Old(s BackupState, now time.Time) bool {
	return p.On && !now.Before(p.oldAt(s))
}

func (p BackupPlace) oldAt(s BackupState) time.Time {
	last := p.At
	if s.Checked.After(last) {
		last = s.Checked
	}
	return last.Add(time.Duration(p.Warn) * time.Hour)
}

// Said says what came of the backups.
func (s BackupState) Said() plain.Sentence {
	switch {
	case s.Wrong != "":
		return plain.Say("The last try failed: %s.", s.Wrong)
	case s.Good.IsZero():
		return plain.Say("Not tried yet.")
	case s.Over:
		return plain.Say("The last one is written, read back and checked. It alone is larger than the most that is to be kept there.")
	}
	return plain.Say("The last one is written, read back and checked.")
}

// BackupDue is a place of backups with what came of them.
type BackupDue struct {
	Place BackupPlace
	State BackupState
}

// backups are the reminders about backups that are old.
func (r Remindable) backups(now time.Time) []Reminder {
	var all []Reminder
	for _, due := range r.Backups {
		if due.Place.Old(due.State, now) {
			all = append(all, Reminder{Kind: AboutBackup, Subject: string(due.Place.ID), Role: procedures.Supervisor, What: due.Warning(), Due: due.Place.oldAt(due.State)})
		}
	}
	return all
}

// Warning says that the backups to a place are old.
func (d BackupDue) Warning() plain.Sentence {
	if d.State.Good.IsZero() {
		return plain.Say("There is no good backup in %s yet", d.Place.Kind.Words())
	}
	return plain.Say("The last good backup in %[1]s is of %[2]s", d.Place.Kind.Words(), d.State.Checked)
}
