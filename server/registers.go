package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func (s *Server) registersRoutes() {
	s.get("/registers", signedIn, s.showRegisters)
}

// registersPage is every register of the mill with what is due in it.
type registersPage struct {
	*views.Frame
	Groups  []safetyGroup
	Gone    []safetyLine
	Saws    []bladeLine
	Fitted  string // serial number of the saw reported fitted, "" for none
	Locks   int
	OffLock int // locks that may not be put on
	Lapses  []personLapses
	Own     bool // only the reader's own locks
	Edit    bool
}

// safetyGroup is the safety equipment of one kind.
type safetyGroup struct {
	Name  string
	Kind  checklists.SafetyKind
	Lines []safetyLine
}

// personLapses is what has run out for one person, or soon does.
type personLapses struct {
	Name, Href string
	Said       []plain.Sentence
}

func (s *Server) showRegisters(v *visit) error {
	page := registersPage{Frame: v.frame("Registers: nothing is due"), Own: !v.readsAll(), Edit: v.person.Supervises()}
	due := 0
	items, checks, err := v.desk.Safety(v.ctx())
	if err != nil {
		return err
	}
	for _, kind := range checklists.SafetyKinds() {
		group := safetyGroup{Name: page.Say(kind.Words()), Kind: kind}
		for _, i := range items {
			line := v.safetyLine(i, checks)
			switch {
			case i.Kind != kind:
			case !i.Retired.IsZero():
				page.Gone = append(page.Gone, line)
			default:
				group.Lines = append(group.Lines, line)
				due += len(line.Over)
				if line.Wrong != nil {
					due++
				}
			}
		}
		page.Groups = append(page.Groups, group)
	}
	all, err := v.desk.Blades(v.ctx())
	if err != nil {
		return err
	}
	for _, one := range all {
		if one.Scrapped != nil {
			continue
		}
		line := v.bladeLine(one)
		page.Saws = append(page.Saws, line)
		if !one.Fitted.IsZero() {
			page.Fitted = one.Serial
			due += len(line.Against)
		}
	}
	if err := page.locks(v); err != nil {
		return err
	}
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	for _, p := range people {
		if page.Own && p.ID != v.person.ID {
			continue
		}
		own := personLapses{Name: p.Name, Href: "/people/" + string(p.ID)}
		for _, lapse := range p.Lapses(v.now) {
			own.Said = append(own.Said, lapse.Said)
			if lapse.Over {
				due++
			}
		}
		if len(own.Said) > 0 {
			page.Lapses = append(page.Lapses, own)
		}
	}
	if due > 0 {
		page.Title = plain.Say("Registers: %d things to see to", due)
	}
	return v.show("registers", page, nil)
}

// locks counts the locks of the register the visitor may see.
func (p *registersPage) locks(v *visit) error {
	register, err := v.desk.Locks(v.ctx())
	if err != nil {
		return err
	}
	std, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	for _, item := range register {
		if !item.Retired.IsZero() || p.Own && item.Owner != v.person.ID {
			continue
		}
		p.Locks++
		if len(item.OffStandard(std)) > 0 {
			p.OffLock++
		}
	}
	return nil
}
