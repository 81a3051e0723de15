package server

import (
	"context"
	"errors"
	"strconv"
	"time"

	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) verifyRoutes() {
	s.get("/verify", signedIn, s.showVerify)
	s.post("/verify", signedIn, s.verify)
	s.get("/verify/compare", signedIn, s.showVerify)
	s.post("/verify/compare", signedIn, s.compare)
	s.get("/verify/key", signedIn, s.showVerify)
	s.post("/verify/key", supervisors, s.rotateKey)
}

// verifyLasts is how long a check of the whole record may take.
const verifyLasts = 10 * time.Minute

// keptListed is how many checkpoints kept here the page lists.
const keptListed = 30

type verifyPage struct {
	*views.Frame
	Head   record.Head
	Text   string         // the signed note, or without a key the head in three lines
	Report *record.Report // nil before the button
	Faults []faultLine
	More   int64 // faults that are not listed

	Alarms []alarmLine // of witnesses of the record

	Signed      bool
	Exposed     bool // others may read the private key
	Fingerprint string
	Keys        []keyLine // the one in use first
	Kept        []keptLine

	Typed    string // what was to be compared
	Compared []comparedLine
	Dispute  bool // one of them speaks against the record
	Useless  bool // one of them can't be used

	Submission, Reason string
	Supervises         bool
}

type faultLine struct {
	Href string
	What plain.Sentence
}

// keyLine is a key the record names.
type keyLine struct {
	Fingerprint string
	InUse       bool
	Said        plain.Sentence // since when and why
	Href        string         // of its entry
}

// keptLine is a checkpoint kept on this computer.
type keptLine struct {
	At   time.Time
	Size int64
	Why  plain.Sentence
}

// Against tells whether it speaks against the record.
func (l comparedLine) Against() bool { return l.Outcome == store.InDispute }

// Unused tells whether it can't be used.
func (l comparedLine) Unused() bool { return l.Outcome == store.Useless }

// comparedLine is what became of one checkpoint kept elsewhere.
type comparedLine struct {
	Outcome store.Outcome
	Said    plain.Sentence
	Key     string // the fingerprint of the one that signed, where the record names it
}

// CheckpointField is where an old checkpoint is pasted.
func (p verifyPage) CheckpointField() views.Field {
	field := p.AreaField("text", p.T("Its lines, from “stillsaw/” to the signature"), p.Typed)
	return field
}

// ReasonField is why the key is replaced.
func (p verifyPage) ReasonField() views.Field {
	return p.TextField("reason", p.T("Reason"), p.Reason)
}

func (s *Server) showVerify(v *visit) error {
	page, err := v.verifyPage()
	if err != nil {
		return err
	}
	return v.show("verify", page, nil)
}

// verifyPage is the page before anything was asked of it.
func (v *visit) verifyPage() (verifyPage, error) {
	page := verifyPage{Frame: v.frame("Is the record what was written?"), Submission: store.NewID(), Supervises: v.person.Supervises()}
	alarms, err := v.alarmLines()
	if err != nil {
		return page, err
	}
	page.Alarms = alarms
	c, err := v.desk.Checkpoint(v.ctx())
	switch {
	case err == nil:
		page.Head, page.Text, page.Signed = c.Head, c.Text, true
	case errors.Is(err, store.ErrNoKey):
		if page.Head, err = v.desk.Head(v.ctx()); err != nil {
			return page, err
		}
		page.Text = page.Head.Text()
	default:
		v.s.log.Error("no checkpoint can be signed", "error", err)
		if page.Head, err = v.desk.Head(v.ctx()); err != nil {
			return page, err
		}
		page.Text = page.Head.Text()
	}
	page.Exposed = v.desk.KeyExposed()
	if err := page.keys(v); err != nil {
		return page, err
	}
	kept, err := v.desk.KeptCheckpoints(v.ctx(), keptListed)
	for _, k := range kept {
		page.Kept = append(page.Kept, keptLine{At: k.At, Size: k.Size, Why: keptWhy(k.Why)})
	}
	return page, err
}

// keys puts in the keys the record names, the one in use first.
func (p *verifyPage) keys(v *visit) error {
	named, err := v.desk.LogKeys(v.ctx())
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	for i := len(named) - 1; i >= 0; i-- {
		k := named[i]
		line := keyLine{Fingerprint: record.Fingerprint(k.Verifier), InUse: k.Until == 0, Href: "/record/" + strconv.FormatInt(k.From, 10), Said: keySince(k, teller{names: names})}
		if line.InUse {
			p.Fingerprint = line.Fingerprint
		}
		p.Keys = append(p.Keys, line)
	}
	return nil
}

// keySince says since when a key signs and why.
func keySince(k store.LogKey, t teller) plain.Sentence {
	switch {
	case k.Why == store.FirstKey:
		return plain.Say("the first, since %s", k.At)
	case k.Why == store.RotatedKey && k.Reason != "":
		return plain.Say("since %[1]s, put in place of the one before by %[2]s: %[3]s", k.At, t.who(k.By), k.Reason)
	case k.Why == store.RotatedKey:
		return plain.Say("since %[1]s, put in place of the one before by %[2]s; the reason is not kept", k.At, t.who(k.By))
	}
	return plain.Say("since %s, when the file of the one before was not found on the computer", k.At)
}

// keptWhy says why a checkpoint was kept.
func keptWhy(why string) plain.Sentence {
	switch why {
	case store.KeptForExport:
		return plain.Say("printed on an export")
	case store.KeptForRotation:
		return plain.Say("signed by two keys, where one hands on to the next")
	case store.KeptAtStop:
		return plain.Say("when Stillsaw stopped")
	}
	return plain.Say("in passing")
}

// verify reads the whole record, which takes longer than other requests may:
// about a quarter of a second for a thousand entries on a small PC.
func (s *Server) verify(v *visit) error {
	if !s.verifying.TryLock() {
		return plain.Refuse("", "The record is being checked already; wait until that is done.")
	}
	defer s.verifying.Unlock()
	ctx, cancel := context.WithTimeout(s.stopping, verifyLasts)
	defer cancel()
	reports, err := s.store.Verify(ctx)
	if err != nil {
		return err
	}
	page, err := v.verifyPage()
	if err != nil {
		return err
	}
	report := reports[v.mill.ID]
	page.found(&report)
	return v.show("verify", page, nil)
}

// found puts in what a check of the whole record came to.
func (p *verifyPage) found(report *record.Report) {
	p.Report = report
	p.Title = plain.Say("The record is what was written: %d entries agree", report.Entries)
	if !report.OK() {
		p.Title = plain.Say("The record was touched: %d faults", report.FaultCount)
	}
	p.More = report.FaultCount - int64(len(report.Faults))
	for _, f := range report.Faults {
		line := faultLine{What: f.What}
		if f.Seq >= 0 && f.Seq < p.Head.Size {
			line.Href = "/record/" + strconv.FormatInt(f.Seq, 10)
		}
		p.Faults = append(p.Faults, line)
	}
}

// compare holds the record against what somebody kept.
func (s *Server) compare(v *visit) error {
	typed := v.typed("text")
	file, err := v.uploaded("file")
	if err != nil {
		return err
	}
	compared, err := v.desk.Compare(v.ctx(), typed+"\n"+file)
	if err != nil {
		return err
	}
	page, err := v.verifyPage()
	if err != nil {
		return err
	}
	page.Typed = typed
	if len(compared) == 0 {
		page.Problems = plain.Problems{{Field: "text", Want: plain.Say("a checkpoint as it was kept: a line that begins with “stillsaw/”, one with a number, one with the root, and the signature below an empty line")}}
		return v.show("verify", page, page.Problems)
	}
	agree := 0
	for _, c := range compared {
		line := comparedLine{Outcome: c.Outcome(), Said: c.Said()}
		if c.Signature == store.Signed {
			line.Key = record.Fingerprint(c.Key.Verifier)
		}
		switch line.Outcome {
		case store.InAccord:
			agree++
		case store.InDispute:
			page.Dispute = true
		default:
			page.Useless = true
		}
		page.Compared = append(page.Compared, line)
	}
	switch { // by the worst that is about the record
	case page.Dispute:
		page.Title = plain.Say("Not everything that was kept agrees with the record")
	case agree == 0:
		page.Title = plain.Say("What was pasted can't be used: it says nothing about the record")
	case page.Useless:
		page.Title = plain.Say("What can be used agrees: the record goes on from it")
	default:
		page.Title = plain.Say("It agrees: the record goes on from what was kept")
	}
	return v.show("verify", page, nil)
}

// rotateKey replaces the key, signed.
func (s *Server) rotateKey(v *visit) error {
	reason := v.typed("reason")
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		if err = v.desk.RotateKey(v.ctx(), v.submission(), reason, v.person, v.now); err == nil {
			return v.moveOn("/verify", "new-key")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	page, err := v.verifyPage()
	if err != nil {
		return err
	}
	page.Problems, page.Reason, page.Submission = problems, reason, v.submission()
	return v.show("verify", page, problems)
}
