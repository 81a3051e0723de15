package server

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"sync"
	"time"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// phones is when each phone on which somebody is signed in was last here, and what
// its browser calls itself. It is known since the start of the server alone: it
// helps somebody to tell their phones apart and decides nothing.
type phones struct {
	mu   sync.Mutex
	last map[[32]byte]phoneMet
}

type phoneMet struct {
	at    time.Time
	agent agent
}

// met notes that a phone was here, and forgets those whose session is over.
func (p *phones) met(session [32]byte, a agent, at time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if _, known := p.last[session]; !known {
		for other, met := range p.last {
			if at.Sub(met.at) > sessionLasts {
				delete(p.last, other)
			}
		}
	}
	if p.last == nil {
		p.last = map[[32]byte]phoneMet{}
	}
	p.last[session] = phoneMet{at, a}
}

func (p *phones) of(session [32]byte) phoneMet {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.last[session]
}

// agent is what a browser calls itself, by names of our own list: "" for others.
type agent struct{ name, system string }

// agentOf reads a User-Agent. Each calls itself by what came before it as well,
// so the newer names are looked for first.
func agentOf(said string) agent {
	among := func(all ...string) string {
		for i := 0; i < len(all); i += 2 {
			if strings.Contains(said, all[i]) {
				return all[i+1]
			}
		}
		return ""
	}
	return agent{
		name:   among("Edg", "Edge", "SamsungBrowser", "Samsung Internet", "OPR/", "Opera", "Firefox", "Firefox", "FxiOS", "Firefox", "Chrome", "Chrome", "CriOS", "Chrome", "Safari", "Safari"),
		system: among("Android", "Android", "iPhone", "iPhone", "iPad", "iPad", "Windows", "Windows", "Macintosh", "macOS", "CrOS", "ChromeOS", "Linux", "Linux"),
	}
}

// said is the agent for a page; empty where nothing of it is known.
func (a agent) said() plain.Sentence {
	switch {
	case a.name != "" && a.system != "":
		return plain.Say("%[1]s on %[2]s", a.name, a.system)
	case a.name+a.system != "":
		return plain.Say("%s", a.name+a.system)
	}
	return plain.Sentence{}
}

// elsewhere are the places where the visitor is signed in besides here.
func (v *visit) elsewhere() (others []store.Session, here store.Session, err error) {
	all, err := v.desk.Sessions(v.ctx(), v.person.ID, v.now)
	if err != nil {
		return nil, here, err
	}
	token, _ := tokenOf(v.Ctx)
	own := sha256.Sum256(token)
	for _, session := range all {
		if session.Token == own {
			here = session
			continue
		}
		others = append(others, session)
	}
	return others, here, nil
}

// sessionID names a session on its person's page; nobody signs in by it.
func sessionID(session store.Session) string { return hex.EncodeToString(session.Token[:8]) }

// sessionSaid tells a phone by when somebody signed in there, and what else is known.
func (v *visit) sessionSaid(f *views.Frame, session store.Session) string {
	met := v.s.phones.of(session.Token)
	kind := met.agent.said()
	switch {
	case met.at.IsZero():
		return f.T("Signed in %s", f.When(session.Made))
	case kind.Empty():
		return f.T("Signed in %[1]s, last here %[2]s", f.When(session.Made), f.When(met.at))
	}
	return f.T("%[1]s: signed in %[2]s, last here %[3]s", f.Say(kind), f.When(session.Made), f.When(met.at))
}

type sessionsPage struct {
	*views.Frame
	This      string // how one is signed in on this phone
	Elsewhere []views.Tick
}

func (s *Server) showSessions(v *visit) error { return v.sessionsPage(nil) }

func (v *visit) sessionsPage(problems plain.Problems) error {
	others, here, err := v.elsewhere()
	if err != nil {
		return err
	}
	page := sessionsPage{Frame: v.frame("%s: where you are signed in", v.person.Name)}
	page.Problems = problems
	page.This = v.sessionSaid(page.Frame, here)
	chosen := v.chosen("session")
	for _, session := range others {
		id := sessionID(session)
		page.Elsewhere = append(page.Elsewhere, views.Tick{Value: id, Text: v.sessionSaid(page.Frame, session), Ticked: slices.Contains(chosen, id)})
	}
	return v.show("signed-in", page, problems)
}

// endSessions signs the visitor out elsewhere.
func (s *Server) endSessions(v *visit) error {
	others, _, err := v.elsewhere()
	if err != nil {
		return err
	}
	chosen := v.chosen("session")
	var problems plain.Problems
	problems.Unless(len(chosen) > 0, "session", "tick where you want to be signed out")
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, wrong...); len(problems) > 0 {
		return v.sessionsPage(problems)
	}
	for _, session := range others {
		if slices.Contains(chosen, sessionID(session)) {
			if err := v.desk.CloseSession(v.ctx(), session.Token); err != nil {
				return err
			}
		}
	}
	return v.moveOn("/people/me/phones", "signed-out-there")
}
