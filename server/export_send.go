package server

import (
	"context"
	"errors"
	"io"
	"os"
	"time"

	"github.com/gofiber/fiber/v2"
	"golang.org/x/mod/sumdb/note"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// exportLasts is how long an export may take, which is longer than other
// requests may.
const exportLasts = 10 * time.Minute

// sendExport makes a file with make and sends it. One is made at a time: each
// reads through the record, and some need a second connection while they do. It
// waits in a temporary file, so that one that fails is an error and no half file.
func (v *visit) sendExport(asked exportAsked, ending, mime string, make func(context.Context, io.Writer) (store.Checkpoint, error)) (err error) {
	ctx, cancel := context.WithTimeout(v.s.stopping, exportLasts)
	defer cancel()
	v.SetUserContext(ctx)
	select {
	case v.s.exporting <- struct{}{}:
		defer func() { <-v.s.exporting }()
	case <-ctx.Done():
		return plain.Refuse("", "Another export is being made, and it takes long. Try again when it is done.")
	}
	file, err := v.desk.TempFile()
	if err != nil {
		return err
	}
	temporary := &passingFile{file}
	defer func() {
		if err != nil {
			err = errors.Join(err, temporary.Close())
		}
	}()
	checkpoint, err := make(ctx, file)
	if errors.Is(err, store.ErrNoKey) {
		return plain.Refuse("", "The key that signs this mill's record is not on this computer, so an export would prove nothing. The page Verify says how to get it back or make a new one.")
	}
	if err != nil {
		return err
	}
	if err := v.desk.KeepCheckpoint(ctx, checkpoint, store.KeptForExport, v.now); err != nil {
		return err
	}
	size, err := file.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	v.Set(fiber.HeaderContentType, mime)
	v.Set(fiber.HeaderContentDisposition, `attachment; filename="`+asked.file(ending)+`"`)
	v.Set(fiber.HeaderCacheControl, "private, no-store")
	return v.SendStream(temporary, int(size))
}

// passingFile is gone once it is closed.
type passingFile struct{ *os.File }

func (f *passingFile) Close() error { return errors.Join(f.File.Close(), os.Remove(f.Name())) }

// askedToSend is what is asked for, or the page that says what is wrong with it.
func (v *visit) askedToSend(send func(exportPage) error) error {
	page, problems, err := v.exportPage()
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.show("export", page, problems)
	}
	return send(page)
}

func (s *Server) sendPDF(v *visit) error {
	return v.askedToSend(func(page exportPage) error {
		if !page.Fits() {
			return tooMuchForPaper()
		}
		return v.sendExport(page.Asked, "pdf", "application/pdf", func(ctx context.Context, out io.Writer) (store.Checkpoint, error) {
			return v.exportAlone(ctx, page.Asked, v.paperOf(page.Asked), out)
		})
	})
}

func (s *Server) sendCSV(v *visit) error {
	return v.askedToSend(func(page exportPage) error {
		return v.sendExport(page.Asked, "csv", "text/csv; charset=utf-8; header=present", func(ctx context.Context, out io.Writer) (store.Checkpoint, error) {
			table := v.tableOf(page.Asked)
			defer table.drop()
			return v.exportAlone(ctx, page.Asked, table, out)
		})
	})
}

func (s *Server) sendJSON(v *visit) error {
	return v.askedToSend(func(page exportPage) error {
		return v.sendExport(page.Asked, "json", fiber.MIMEApplicationJSONCharsetUTF8, v.exportOrder(page).writeJSON)
	})
}

func (s *Server) sendZIP(v *visit) error {
	return v.askedToSend(func(page exportPage) error {
		return v.sendExport(page.Asked, "zip", "application/zip", func(ctx context.Context, out io.Writer) (store.Checkpoint, error) {
			table := v.tableOf(page.Asked)
			defer table.drop()
			beside := []besideExport{{exportCSVName, table.begin, table.each, table.end}}
			if page.Fits() {
				paper := v.paperOf(page.Asked)
				beside = append([]besideExport{{exportPDFName, paper.begin, paper.each, paper.end}}, beside...)
			}
			return v.exportOrder(page).writeZip(ctx, out, beside...)
		})
	})
}

func (v *visit) exportOrder(page exportPage) exportOrder {
	order := exportOrder{desk: v.desk, mill: v.mill, selection: page.Asked.Selection, words: page.Say(page.What), withhold: page.Asked.Withhold, by: v.person, now: v.now}
	if left := page.Asked.leftSaid(); len(left) > 0 {
		order.out = page.T("Withheld: %s.", left)
	}
	return order
}

// maker makes one file of an export: begin and each as the entries are read,
// end writes it.
type maker interface {
	begin(store.Checkpoint) error
	each(store.Exported) error
	end(io.Writer) error
}

// exportAlone makes one file by itself.
func (v *visit) exportAlone(ctx context.Context, asked exportAsked, file maker, out io.Writer) (made store.Checkpoint, err error) {
	begin := func(c store.Checkpoint, _ note.Signer) error {
		made = c
		return file.begin(c)
	}
	if err := v.desk.ExportUnder(ctx, asked.Selection, asked.Withhold, begin, func(e store.Exported) error {
		if e.Also { // which only the proofs need
			return nil
		}
		return file.each(e)
	}); err != nil {
		return made, err
	}
	return made, file.end(out)
}
