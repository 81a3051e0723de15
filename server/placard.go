package server

import (
	"net/url"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// placard is a procedure in force on paper, for the machine, as page and file
// show it.
type placard struct {
	*views.Frame
	ID       string
	Card     procedures.Placard
	By       string
	At       time.Time
	Address  string // where the code leads
	OnlyHere bool   // an address that no phone reaches
	Code     qrCode
	Energy   []energyLine
	Points   []placardPoint
	Stages   []placardStage
	Dense    bool // many steps: printed smaller from the page
}

// placardPoint is one isolator with its picture.
type placardPoint struct {
	Device   procedures.Device
	Kind     plain.Sentence
	Lock     plain.Sentence
	Photo    *markedPhoto
	Lockable bool
}

// placardStage is the steps of a stage, counted through the whole sheet.
type placardStage struct {
	Words  plain.Sentence
	Clause string
	Steps  []placardStep
}

type placardStep struct {
	Number, Point int
	Text          string
	Asks          plain.Sentence // proof, wait and what comes again
}

// roomySteps is how many steps fit on one page in the larger type when it is
// printed from the browser, measured in Chromium on Letter paper.
const roomySteps = 40

// placard puts it together. A draft isn't printed: nobody may work by it.
func (v *visit) placard() (*placard, error) {
	inForce, err := v.desk.Published(v.ctx(), store.Procedures, v.Params("id"), 0)
	if err != nil {
		return nil, err
	}
	p, err := v.desk.Procedure(v.ctx(), procedures.ProcedureID(inForce.ID), inForce.Version)
	if err != nil {
		return nil, err
	}
	names, err := v.names()
	if err != nil {
		return nil, err
	}
	c := &placard{Frame: v.frame("%s: lockout placard", p.Title), ID: inForce.ID, Card: p.Placard(inForce.At), By: names[inForce.By], At: inForce.At,
		Address: v.BaseURL() + "/procedures/" + url.PathEscape(inForce.ID), Energy: energyLines(p), Dense: len(p.Steps) > roomySteps}
	host := strings.Split(v.Hostname(), ":")[0]
	c.OnlyHere = host == "localhost" || strings.HasPrefix(host, "127.") || strings.HasPrefix(v.Hostname(), "[::1]")
	if c.Code, err = qrOf(c.Address); err != nil {
		return nil, err
	}
	for _, point := range c.Card.Points {
		one := placardPoint{Device: point.Device, Kind: point.Device.Kind.Words(), Lock: point.Device.TakesLock(), Lockable: point.Device.Lockable}
		if one.Photo, err = v.marked(point.Device); err != nil {
			return nil, err
		}
		c.Points = append(c.Points, one)
	}
	for _, stage := range c.Card.Stages {
		part := placardStage{Words: stage.Stage.Words(), Clause: stage.Clause}
		for _, s := range stage.Steps {
			part.Steps = append(part.Steps, placardStep{Number: s.Number, Point: s.Point, Text: s.Step.Text, Asks: placardAsks(s.Step)})
		}
		if len(part.Steps) > 0 || stage.Stage == procedures.Work {
			c.Stages = append(c.Stages, part)
		}
	}
	return c, nil
}

// Cautions are those of every lockout.
func (c *placard) Cautions() []plain.Sentence { return c.Card.Cautions }

// Signed is which version it is and who put it in force.
func (c *placard) Signed() string {
	return c.T("Version %[1]d, put in force by %[2]s on %[3]s.", c.Card.Version, c.By, c.Day(c.At))
}

// WithoutNetwork is how it is used where no phone reaches Stillsaw.
func (c *placard) WithoutNetwork() string {
	return c.T("No network? Work from this sheet, step by step, your own lock on. Enter the lockout in Stillsaw afterwards, with the times it was done; it is marked as entered late.")
}

// Energies are the energies in a line each, with their sizes.
func (c *placard) Energies() []string {
	lines := make([]string, len(c.Energy))
	for i, e := range c.Energy {
		size := e.Magnitude
		if size == "" {
			size = c.T("size not yet measured, take it for large")
		}
		lines[i] = c.T("%[1]s, %[2]s: %[3]s.", e.Source, e.Kind, size)
		if e.Turns && e.Coast != "" {
			lines[i] += " " + c.T("Coasts %s s.", e.Coast)
		}
	}
	return lines
}

type placardPage struct {
	*placard
}

func (s *Server) showPlacard(v *visit) error {
	c, err := v.placard()
	if err != nil {
		return err
	}
	return v.show("placard", placardPage{c}, nil)
}

// placardAsks is what a step asks beside its words, nothing where it is only
// done.
func placardAsks(s procedures.Step) plain.Sentence {
	if s.Proof == procedures.Tick && s.Wait == 0 && s.Recheck == 0 && !s.AsksPhoto {
		return plain.Sentence{}
	}
	return stepAsks(s)
}
