package server

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// exceptionBox is the eight parts of the exception as they stand for one piece.
type exceptionBox struct {
	Parts        []procedures.Part
	MayStay      bool // all eight hold
	Failing      int
	By           string // who declared parts 3 and 7 last
	At           time.Time
	Declarations []views.Field
}

// exceptionOf computes the parts; typed is what stands in the form, nil for what
// is declared.
func (v *visit) exceptionOf(id procedures.EquipmentID, typed func(string) string) (exceptionBox, error) {
	parts, declared, err := v.desk.Exception(v.ctx(), id)
	if err != nil {
		return exceptionBox{}, err
	}
	names, err := v.names()
	if err != nil {
		return exceptionBox{}, err
	}
	box := exceptionBox{Parts: parts, MayStay: procedures.MayStayUnwritten(parts), By: names[declared.By], At: declared.At}
	for _, part := range parts {
		if !part.Holds {
			box.Failing++
		}
	}
	dead, harmless := declared.FullyDead, declared.NoHazard
	if typed != nil {
		dead, harmless = typed("fully_dead") == "yes", typed("no_hazard") == "yes"
	}
	f := v.frame("Exception")
	box.Declarations = []views.Field{
		f.TickField("fully_dead", f.T("Part 3: locking its one source off takes all energy away"), dead),
		f.TickField("no_hazard", f.T("Part 7: the work makes no hazard for others"), harmless)}
	return box, nil
}

func (s *Server) declareException(v *visit) error {
	_, e, err := v.piece()
	if err != nil {
		return err
	}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		d := procedures.Declaration{Equipment: e.ID, FullyDead: v.typed("fully_dead") == "yes", NoHazard: v.typed("no_hazard") == "yes"}
		err := v.desk.Declare(v.ctx(), v.submission(), d, v.person, v.now)
		if err == nil {
			return v.moveOn(machinePath(e.ID)+"#exception", "declared")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.machinePage(v.typed, named(problems, "equipment", ""))
}

// named gives problems of one field another field's name.
func named(problems plain.Problems, from, to string) plain.Problems {
	return renamed(problems, map[string]string{from: to})
}
