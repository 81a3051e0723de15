package server

import (
	"errors"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// A screen may hold several steps that ask for a picture each: every one has its
// own field, named by the step, and its own event keeps it.

// photoOfStep names the field of a step's picture.
func photoOfStep(id procedures.StepID) string { return "photo." + string(id) }

// keptPhoto names the hidden field of a picture that a refused form brought.
func keptPhoto(field string) string { return "photo_kept" + field[len("photo"):] }

// stepPhoto is the field of a step that asks for a picture.
func stepPhoto(f *views.Frame, s procedures.Step) views.Field {
	return f.PhotoField(photoOfStep(s.ID), f.T("Photo of this step")).
		WithHint(f.T("This step asks for one. Take it from where you can stand safely."))
}

// readPhotos keeps the pictures sent: of each step reported that asks for one,
// with its event, and the one of the form.
func (v *visit) readPhotos(r *report, l procedures.Lockout) (problems plain.Problems, err error) {
	r.photos = map[procedures.StepID]string{}
	for i, e := range r.events {
		s, reported := stepReported(l, e)
		if !reported || !s.AsksPhoto {
			continue
		}
		digest, wrong, err := v.readPhoto(photoOfStep(s.ID))
		if err != nil {
			return nil, err
		}
		problems = append(problems, wrong...)
		r.events[i].Photo, r.photos[s.ID] = digest, digest
	}
	digest, wrong, err := v.readPhoto("photo")
	r.photo = digest
	return append(problems, wrong...), err
}

// stepReported is the step an event of a form reports done, a lock put on or
// taken off for one as well.
func stepReported(l procedures.Lockout, e procedures.Event) (procedures.Step, bool) {
	if e.Kind == procedures.LockApplied {
		return lockingStep(l.Procedure, e.Device)
	}
	for _, s := range l.Procedure.Steps {
		if s.ID == e.Step || e.Kind == procedures.LockRemoved && s.Stage == procedures.RemoveLocks && s.Device == e.Device {
			return s, true
		}
	}
	return procedures.Step{}, false
}

// lockingStep is the step at which a lock goes on that device.
func lockingStep(p procedures.Procedure, id procedures.DeviceID) (procedures.Step, bool) {
	for _, s := range p.Steps {
		if s.Stage == procedures.Apply && s.Device == id {
			return s, true
		}
	}
	return procedures.Step{}, false
}

// readPhoto keeps the picture sent in a field, or goes on with the one kept when
// the form came before.
func (v *visit) readPhoto(field string) (string, plain.Problems, error) {
	digest, problems, err := v.photo(field)
	kept := v.typed(keptPhoto(field))
	if err != nil || len(problems) > 0 || digest != "" || kept == "" {
		return digest, problems, err
	}
	_, err = v.desk.Photo(v.ctx(), kept)
	if errors.Is(err, store.ErrNotFound) {
		return "", plain.Problems{{Field: field, Want: plain.Say("the photo once more; the one sent before is not here")}}, nil
	}
	return kept, nil, err
}
