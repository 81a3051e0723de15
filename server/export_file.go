package server

import (
	"context"
	"errors"
	"io"
	"runtime/debug"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/note"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// exportOrder is an export as it was asked for. Words and Out say in a person's
// words what was asked for and what is kept back.
type exportOrder struct {
	desk      *store.Mill
	mill      checklists.Mill
	selection store.Selection
	words     string
	withhold  store.Withhold
	out       string
	by        procedures.Person
	now       time.Time
}

// besideExport is a file made of the same entries together with an export. end
// writes it once each has seen them all; begin and each may be nil.
type besideExport struct {
	name  string
	begin func(store.Checkpoint) error
	each  func(store.Exported) error
	end   func(io.Writer) error
}

// writeJSON streams the export that proves itself to w ([record.ExportWriter]).
func (o exportOrder) writeJSON(ctx context.Context, w io.Writer) (store.Checkpoint, error) {
	return o.write(ctx, w, nil, func() ([]record.ExportFile, error) { return nil, nil })
}

// write streams the export to w and its entries to beside; finish makes the
// files it names, once all entries were seen.
func (o exportOrder) write(ctx context.Context, w io.Writer, beside []besideExport, finish func() ([]record.ExportFile, error)) (store.Checkpoint, error) {
	var made store.Checkpoint
	var key note.Signer
	var out *record.ExportWriter
	var photos []string
	seen := map[string]bool{}
	begin := func(c store.Checkpoint, signer note.Signer) (err error) {
		made, key = c, signer
		for _, file := range beside {
			if file.begin != nil {
				err = errors.Join(err, file.begin(c))
			}
		}
		if err != nil {
			return err
		}
		out, err = record.NewExportWriter(w, o.header(c))
		return err
	}
	dropped := map[string]bool{}
	each := func(e store.Exported) error {
		if said, ok := e.Entry.Body.(store.Dropped); ok {
			for _, digest := range said.Photos {
				dropped[digest] = true
			}
		}
		if e.Also {
			return out.Also(e.Row, e.Proof)
		}
		for _, digest := range e.Photos {
			if !seen[digest] {
				seen[digest] = true
				photos = append(photos, digest)
			}
		}
		for _, file := range beside {
			if file.each != nil {
				if err := file.each(e); err != nil {
					return err
				}
			}
		}
		return out.Entry(e.Row, e.Proof)
	}
	if err := o.desk.ExportUnder(ctx, o.selection, o.withhold, begin, each); err != nil {
		return made, err
	}
	for _, digest := range photos {
		photo, err := o.photo(ctx, digest)
		if err != nil {
			return made, err
		}
		if photo.Left == record.PhotoDropped && !dropped[digest] {
			return made, plain.Refuse("", "A photo was dropped while the export was made. Make it again.")
		}
		if err := out.Photo(photo); err != nil {
			return made, err
		}
	}
	files, err := finish()
	if err != nil {
		return made, err
	}
	return made, out.Close(files, key)
}

func (o exportOrder) header(c store.Checkpoint) record.ExportHeader {
	h := record.ExportHeader{
		Mill: record.ExportMill{ID: string(o.mill.ID), Name: o.mill.Name, Zone: o.mill.Zone},
		Made: record.ExportMade{At: record.ExportTime(o.now), By: record.ExportBy{ID: string(o.by.ID), Name: o.by.Name}, Program: Version()},
		Selection: record.ExportSelection{From: o.selection.From, Until: o.selection.Until, Equipment: string(o.selection.Equipment),
			Person: string(o.selection.Person), Subject: o.selection.Subject, Words: o.words},
		Withheld:   record.ExportWithheld{Names: o.withhold.Names, Notes: o.withhold.Notes, Photos: o.withhold.Photos, Words: o.out},
		Checkpoint: c.Text,
	}
	if o.withhold.Names {
		h.Made.By.Name = ""
	}
	for _, key := range c.Keys {
		h.Keys = append(h.Keys, record.ExportKey{Verifier: key.Verifier, From: key.From, Until: key.Until})
	}
	return h
}

func (o exportOrder) photo(ctx context.Context, digest string) (record.ExportPhoto, error) {
	photo := record.ExportPhoto{Digest: digest}
	if o.withhold.Photos {
		photo.Left = record.PhotoLeftOut
		return photo, nil
	}
	kept, err := o.desk.Photo(ctx, digest)
	switch photo.Type = kept.Type; {
	case errors.Is(err, store.ErrDropped):
		photo.Left = record.PhotoDropped
	case errors.Is(err, store.ErrNotFound):
		photo.Left = record.PhotoNotKept
	case err != nil:
		return photo, err
	default:
		photo.Bytes = kept.Bytes
	}
	return photo, nil
}

// Version is the program's name with what its build says of itself.
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "stillsaw"
	}
	revision := slices.IndexFunc(info.Settings, func(s debug.BuildSetting) bool { return s.Key == "vcs.revision" })
	if revision < 0 {
		return "stillsaw " + info.Main.Version
	}
	return "stillsaw " + info.Main.Version + " " + info.Settings[revision].Value
}
