package server

import (
	"context"
	"errors"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/store"
	"stillsaw/views"
)

// toMailbox puts the present checkpoint into the outbox, once a day, from the hour
// at which mail goes out.
func (g giving) toMailbox(ctx context.Context, atOnce bool) error {
	settings, err := g.desk.MailSettings(ctx)
	if err != nil {
		return err
	}
	if !settings.On {
		return g.answered(ctx, checklists.WitnessNoMail, nil)
	}
	zone, err := g.mill.LocationAt(g.now)
	if err != nil {
		return err
	}
	day := settings.Daily(g.now, zone)
	if atOnce {
		day = "asked " + g.now.Format("2006-01-02T15:04:05")
	}
	if day == "" {
		return nil
	}
	_, now, err := g.desk.CheckpointSince(ctx, 0)
	if errors.Is(err, store.ErrNoKey) {
		return g.answered(ctx, checklists.WitnessNoKey, nil)
	}
	if err != nil {
		return err
	}
	occasion := "witness " + string(g.to.ID) + " " + day
	posted, err := g.desk.Posted(ctx, occasion)
	if err != nil || posted {
		return err
	}
	words := &views.Frame{Title: plain.Sentence{}, Words: g.s.words.For(""), Mill: g.mill.Name, Zone: zone, Units: g.mill.Units, Now: g.now}
	letter := store.Mail{Witness: g.to.ID, Occasion: occasion, State: store.MailQueued, Made: g.now, Subject: words.T("%[1]s: the record at %[2]d entries", g.mill.Name, now.Size), Body: checkpointLetter(words, now)}
	if err := g.desk.PostMail(ctx, letter, nil); err != nil {
		return err
	}
	return g.desk.KeepWitnessMail(ctx, g.to.ID, now.Head, g.now)
}

// checkpointLetter is the mail in plain words with the checkpoint under it.
func checkpointLetter(w *views.Frame, now store.Checkpoint) string {
	body := w.T("This is a checkpoint of the safety record of %[1]s: what it says of itself with %[2]d entries, signed by the mill's computer.", w.Mill, now.Size) + "\n\n" +
		w.T("You need not do anything. Keep this mail. If anybody later changes one of these entries, leaves one out or puts one between, this mail shows it: on the mill's page Is the record what was written the text below is held against the record.") + "\n\n" +
		now.Text + "\n"
	if len(now.Keys) > 0 {
		key := now.Keys[len(now.Keys)-1].Verifier
		body += w.T("It is signed with this key, whose fingerprint is %s:", record.Fingerprint(key)) + "\n" + key + "\n"
	}
	return body
}
