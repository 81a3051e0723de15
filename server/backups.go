package server

import (
	"context"
	"net/url"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/backup"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) backupRoutes() {
	s.get("/backups", supervisors, s.showBackups)
	s.post("/backups", supervisors, s.setUpBackup)
	s.post("/backups/:id/make", supervisors, s.backUpNow)
	s.post("/backups/:id/switch", supervisors, s.switchBackup)
	s.post("/backups/:id/remove", supervisors, s.removeBackup)
}

type backupsPage struct {
	*views.Frame
	Submission string
	Kept       []backupLine
	Fields     []views.Field // of a new one
	Whole      []views.Field // of a new one, seldom changed
	Again      bool          // some of those are wrong
}

// backupLine is a place of backups as the page shows it.
type backupLine struct {
	Kind      plain.Sentence
	Place     string
	On, Good  bool
	Said      plain.Sentence
	Warning   plain.Sentence
	Old       bool
	State     checklists.BackupState
	Bytes     string
	All       string
	Every     int
	Keep      checklists.BackupKeep
	Warn      int
	Encrypted bool
	SameDisk  bool
	Since     time.Time

	Make, Switch, Remove string
}

// backupForm is what was typed.
type backupForm struct {
	Kind, Place, Region, User, Recipients        string
	Every, Base, Hours, Days, Months, Most, Warn string
}

func (s *Server) showBackups(v *visit) error {
	return v.backupsPage(backupFormOf(checklists.NewBackupPlace()), nil)
}

func backupFormOf(p checklists.BackupPlace) backupForm {
	n := strconv.Itoa
	return backupForm{Kind: string(p.Kind), Every: n(p.Every), Base: n(p.Base), Hours: n(p.Keep.Hours), Days: n(p.Keep.Days), Months: n(p.Keep.Months), Most: n(p.Keep.Most), Warn: n(p.Warn)}
}

func (v *visit) backupsPage(form backupForm, problems plain.Problems) error {
	page := backupsPage{Frame: v.frame("No backup is made: if this computer's disk goes, everything is gone"), Submission: store.NewID()}
	page.Problems = problems
	all, err := v.desk.Backups(v.ctx())
	if err != nil {
		return err
	}
	good, elsewhere, on := 0, 0, 0
	for _, due := range all {
		line := v.backupLine(due)
		page.Kept = append(page.Kept, line)
		if line.On {
			on++
		}
		if line.On && line.Good && !line.Old {
			good++
			if !line.SameDisk {
				elsewhere++
			}
		}
	}
	switch {
	case on == 0:
	case good < on:
		page.Title = plain.Say("Backups: %[1]d of %[2]d places have a good one", good, on)
	case elsewhere == 0:
		page.Title = plain.Say("Backups lie on this computer's own disk alone")
	default:
		page.Title = plain.Say("Backups: each place has a good one")
	}
	page.Fields = []views.Field{
		page.ChoiceField("kind", page.T("What it is"), form.Kind, []views.Choice{
			{Value: string(checklists.BackupFolder), Text: page.T("A folder on another disk or another computer")},
			{Value: string(checklists.BackupS3), Text: page.T("S3-compatible storage")}}),
		page.TextField("place", page.T("Where it is"), form.Place).WithHint(page.T("The whole path of a folder that is there, or the address of the storage with the bucket in it, such as https://s3.example.com/mill-backups.")),
		page.TextField("user", page.T("Access key"), form.User).WithHint(page.T("Of the storage; empty for a folder.")),
		page.SecretField("secret", page.T("Secret of the access key")).WithHint(page.T("Kept on this computer so that backups can be made, and in the backups; never on the record. Use a key made for this only.")),
		page.TextField("region", page.T("Region"), form.Region).WithHint(page.T("Empty where the storage has none.")),
		page.AreaField("recipients", page.T("Encrypt to"), form.Recipients).WithHint(page.T("Public keys of age, a line each; each begins with age1. Their private keys are made with age-keygen on another computer and never come here: without one of them nobody can restore, and nobody can help. Empty: not encrypted.")),
	}
	page.Whole = []views.Field{
		page.NumberField("every", page.T("A backup every so many minutes"), form.Every),
		page.NumberField("base", page.T("A whole copy every so many hours"), form.Base).WithHint(page.T("Between them only what was written since.")),
		page.NumberField("hours", page.T("Keep all for so many hours"), form.Hours),
		page.NumberField("days", page.T("Then one of each day for so many days"), form.Days),
		page.NumberField("months", page.T("Then one of each month for so many months"), form.Months).WithHint(page.T("0: for good.")),
		page.NumberField("most", page.T("At most so many gigabytes together"), form.Most).WithHint(page.T("The oldest go first, never the newest whole one. 0: no bound.")),
		page.NumberField("warn", page.T("Warn after so many hours without a good one"), form.Warn),
	}
	for _, problem := range problems {
		for _, field := range page.Whole {
			page.Again = page.Again || field.Name == problem.Field
		}
	}
	return v.show("backups", page, problems)
}

func (v *visit) backupLine(due checklists.BackupDue) backupLine {
	p, at := due.Place, "/backups/"+url.PathEscape(string(due.Place.ID))
	line := backupLine{Kind: backupHeading(p.Kind), Place: p.Place, On: p.On, Good: !due.State.Good.IsZero() && due.State.Wrong == "", Said: due.State.Said(), Warning: due.Warning(), Old: p.Old(due.State, v.now), State: due.State,
		Bytes: sizeSaid(due.State.Bytes), All: sizeSaid(due.State.All), Every: p.Every, Keep: p.Keep, Warn: p.Warn, Encrypted: len(p.Recipients) > 0, Since: p.At,
		Make: at + "/make", Switch: at + "/switch", Remove: at + "/remove"}
	if p.Kind == checklists.BackupFolder {
		line.SameDisk, _ = sameDisk(p.Place, filepath.Dir(v.s.store.Path()))
	}
	return line
}

// backupHeading names a kind of place over what is said of it.
func backupHeading(kind checklists.BackupKind) plain.Sentence {
	if kind == checklists.BackupFolder {
		return plain.Say("Folder")
	}
	return plain.Say("S3-compatible storage")
}

// sizeSaid is a size as disks are sold by.
func sizeSaid(bytes int64) string {
	switch {
	case bytes >= 1e9:
		return strconv.FormatFloat(float64(bytes)/1e9, 'f', 1, 64) + " GB"
	case bytes >= 1e6:
		return strconv.FormatFloat(float64(bytes)/1e6, 'f', 1, 64) + " MB"
	}
	return strconv.FormatInt((bytes+999)/1000, 10) + " kB"
}

// backupDone ends an act on the page Backups: it is signed first.
func (v *visit) backupDone(form backupForm, done string, do func() error) error {
	return v.signedThen("/backups", done, do, func(problems plain.Problems) error { return v.backupsPage(form, problems) })
}

func (s *Server) setUpBackup(v *visit) error {
	form := backupForm{Kind: v.typed("kind"), Place: v.typed("place"), Region: v.typed("region"), User: v.typed("user"), Recipients: v.typed("recipients"),
		Every: v.typed("every"), Base: v.typed("base"), Hours: v.typed("hours"), Days: v.typed("days"), Months: v.typed("months"), Most: v.typed("most"), Warn: v.typed("warn")}
	asked := checklists.BackupPlace{Kind: checklists.BackupKind(form.Kind), Place: form.Place, Region: form.Region, User: form.User, Recipients: strings.Fields(form.Recipients),
		Every: whole(form.Every), Base: whole(form.Base), Warn: whole(form.Warn), Keep: checklists.BackupKeep{Hours: whole(form.Hours), Days: whole(form.Days), Months: whole(form.Months), Most: whole(form.Most)}}
	secret := v.FormValue("secret")
	return v.backupDone(form, "backup", func() error {
		if _, err := backup.Recipients(asked.Recipients); err != nil {
			return plain.Problems{{Field: "recipients", Want: plain.Say("public keys of age, a line each, that begin with age1")}}
		}
		if asked.Kind == checklists.BackupFolder && filepath.IsAbs(asked.Place) {
			if err := tryFolder(asked.Place); err != nil {
				return plain.Problems{{Field: "place", Want: plain.Say("a folder that is there and that this computer may write to: %s", err.Error())}}
			}
		}
		_, err := v.desk.SetUpBackup(v.ctx(), v.submission(), asked, secret, v.person, v.now)
		return err
	})
}

// backUpNow makes a backup at once. Where that takes longer than somebody waits for
// a page, it goes on beside.
func (s *Server) backUpNow(v *visit) error {
	all, err := v.desk.Backups(v.ctx())
	if err != nil {
		return err
	}
	for _, due := range all {
		if string(due.Place.ID) != v.Params("id") {
			continue
		}
		made := make(chan checklists.BackupState, 1)
		mill := v.mill
		s.loops.Go(func() {
			state, err := s.backUp(s.stopping, mill, due, true)
			if err != nil && s.stopping.Err() == nil {
				s.log.Error("backups", "error", err)
				state.Wrong = oneLine(err)
			}
			made <- state
		})
		waiting, cancel := context.WithTimeout(v.ctx(), backupWait)
		defer cancel()
		select {
		case state := <-made:
			if state.Wrong != "" {
				return v.moveOn("/backups", "backup-not")
			}
			return v.moveOn("/backups", "backup-made")
		case <-waiting.Done():
			return v.moveOn("/backups", "backup-goes-on")
		}
	}
	return store.ErrNotFound
}

// backupWait is how long a page waits for a backup to be made.
const backupWait = 15 * time.Second

func (s *Server) switchBackup(v *visit) error {
	return v.backupDone(backupFormOf(checklists.NewBackupPlace()), "backup-switched", func() error {
		return v.desk.SwitchBackup(v.ctx(), v.submission(), checklists.BackupID(v.Params("id")), v.typed("on") == "yes", v.person, v.now)
	})
}

func (s *Server) removeBackup(v *visit) error {
	return v.backupDone(backupFormOf(checklists.NewBackupPlace()), "backup-removed", func() error {
		return v.desk.RemoveBackup(v.ctx(), v.submission(), checklists.BackupID(v.Params("id")), v.person, v.now)
	})
}

// oldBackups are what a supervisor's first page says of backups that are old.
func (v *visit) oldBackups() ([]plain.Sentence, error) {
	all, err := v.desk.Backups(v.ctx())
	var said []plain.Sentence
	for _, due := range all {
		if due.Place.Old(due.State, v.now) {
			said = append(said, due.Warning())
		}
	}
	return said, err
}
