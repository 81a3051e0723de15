package server

import (
	"slices"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// changedMeanwhile is the problem of a form that somebody else was quicker with.
func changedMeanwhile() plain.Sentence {
	return plain.Say("Somebody changed this meanwhile. Look at it again; what you typed is still here.")
}

// stands is what is stored now of the thing a form is about.
type stands struct {
	kind, subject string       // of the entries it is changed by; no kind: said without who and when
	mark          string       // of the state stored
	page          func() error // shows the form filled in with it; nil for what is being added
}

// opened is the mark of what a form was filled in against: the one it was shown
// with, however often it is shown again. now is of what a form is opened on.
func (v *visit) opened(now string) string {
	if seen := v.typed("seen"); seen != "" {
		return seen
	}
	return now
}

// since is the mark of what the sender last looked at. The tick under what
// changed carries that of the state it was shown with; a form sent without the
// tick keeps the mark it was opened with, and so is not taken.
func (v *visit) since() string {
	if looked := v.typed("looked"); looked != "" {
		return looked
	}
	return v.typed("seen")
}

// again shows a form with its problems and everything typed. Where somebody else
// changed it meanwhile, each field in which what is stored now differs from what
// is typed stands above it, and its next send is taken only with the tick that
// this was seen, so that nothing is written over unseen.
func (v *visit) again(problems plain.Problems, now stands, typed func() error) error {
	if !slices.ContainsFunc(problems, func(p plain.Problem) bool { return p.Want.Format == changedMeanwhile().Format }) {
		return typed()
	}
	meanwhile := views.Meanwhile{Mark: now.mark}
	if now.page != nil {
		stored, err := v.noted(now.page)
		if err != nil {
			return err
		}
		mine, err := v.noted(typed)
		if err != nil {
			return err
		}
		meanwhile.Differences = views.Differ(mine, stored)
	}
	if now.kind != "" {
		newest, _, err := v.desk.Entries(v.ctx(), store.Filter{Kind: now.kind, Subject: now.subject, Limit: 1})
		if err != nil {
			return err
		}
		names, err := v.names()
		if err != nil {
			return err
		}
		if len(newest) > 0 {
			meanwhile.Who = v.frame("Changed").T("Last changed by %[1]s, %[2]s.", teller{names: names}.who(newest[0].Actor), newest[0].At)
		}
	}
	v.meanwhile = &meanwhile
	return typed()
}

// noted are the fields of a form as a page fills them in. What the page wrote is
// written over by the next one shown.
func (v *visit) noted(page func() error) ([]views.Noted, error) {
	notes := []views.Noted{}
	v.notes = &notes
	err := page()
	v.notes = nil
	return notes, err
}
