package server

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) tokenRoutes() {
	s.get("/mill/tokens", supervisors, s.showTokens)
	s.post("/mill/tokens", supervisors, s.makeToken)
	s.post("/mill/tokens/:id/revoke", supervisors, s.revokeToken)
	s.get("/api", signedIn, s.showAPI)
}

type tokensPage struct {
	*views.Frame
	Submission string
	Secret     string // of a token made just now, shown this once
	Made       string // its name
	Fields     []views.Field
	Good, Over []tokenLine
	Makes      bool
	Empty      views.Empty
}

type tokenLine struct {
	Name, By, RevokedBy string
	May                 plain.Sentence
	Until, Used, At     time.Time
	Revoked             time.Time
	Revoke              string // address
}

// tokenForm is what was typed.
type tokenForm struct{ Name, Use, Person, Until string }

func (s *Server) showTokens(v *visit) error {
	return v.tokensPage(tokenForm{Use: string(checklists.TokenReads)}, store.NewID(), nil, nil)
}

// tokensPage lists the tokens; show puts a secret on it.
func (v *visit) tokensPage(form tokenForm, submission string, problems plain.Problems, show func(*tokensPage)) error {
	tokens, err := v.desk.Tokens(v.ctx())
	if err != nil {
		return err
	}
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	names := make(map[procedures.PersonID]string, len(people))
	crew := []views.Choice{{Value: "", Text: v.frame("").T("Nobody: it only reads")}}
	for _, p := range people {
		names[p.ID] = p.Name
		if p.Works() {
			crew = append(crew, views.Choice{Value: string(p.ID), Text: p.Name})
		}
	}
	page := tokensPage{Frame: v.frame("Tokens"), Submission: submission, Makes: v.person.Role == procedures.Supervisor}
	page.Problems = problems
	for _, t := range tokens {
		line := tokenLine{Name: t.Name, By: names[t.By], RevokedBy: names[t.RevokedBy], Until: t.Until, Used: t.Used, At: t.At, Revoked: t.RevokedAt, May: tokenMay(t.Token, names)}
		if !t.Good(v.now) {
			page.Over = append(page.Over, line)
			continue
		}
		line.Revoke = "/mill/tokens/" + string(t.ID) + "/revoke"
		page.Good = append(page.Good, line)
	}
	page.Title = plain.Say("Tokens: %d good", len(page.Good))
	page.Empty = page.EmptyList(page.T("There is no token: no program reads this mill."), "", "")
	page.Fields = []views.Field{
		page.TextField("name", page.T("Which program it is for, and where it runs"), form.Name),
		page.ChoiceField("use", page.T("What it may do"), form.Use, []views.Choice{{Value: string(checklists.TokenReads), Text: page.T("Read what a reader sees")}, {Value: string(checklists.TokenWrites), Text: page.T("Read, and write as one person")}}),
		page.ChoiceField("person", page.T("As whom it writes"), form.Person, crew).AsList(),
		page.DayField("until", page.T("Good until the end of"), form.Until),
	}
	if show != nil {
		show(&page)
	}
	v.Set("Cache-Control", "no-store")
	return v.show("tokens", page, problems)
}

// tokenMay says what a token may do.
func tokenMay(t checklists.Token, names map[procedures.PersonID]string) plain.Sentence {
	if t.Use != checklists.TokenWrites {
		return plain.Say("reads")
	}
	return plain.Say("reads, and writes as %s", names[t.Person])
}

func (s *Server) makeToken(v *visit) error {
	form := tokenForm{Name: v.typed("name"), Use: v.typed("use"), Person: v.typed("person"), Until: v.typed("until")}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return err
	}
	if len(problems) == 0 {
		submission := v.submission()
		before, err := v.desk.Answered(v.ctx(), submission)
		if err != nil {
			return err
		}
		asked := checklists.Token{Name: form.Name, Use: checklists.TokenUse(form.Use), Person: procedures.PersonID(form.Person), Until: endOfDay(form.Until, v.zone)}
		_, err = v.desk.MakeToken(v.ctx(), submission, asked, sha256.Sum256(raw), v.person, v.now)
		switch {
		case err == nil && before: // its secret was on the page that did not arrive, and nobody has it
			return v.moveOn("/mill/tokens", "token-again")
		case err == nil:
			return v.tokensPage(tokenForm{Use: string(checklists.TokenReads)}, store.NewID(), nil, func(p *tokensPage) {
				p.Secret, p.Made = tokenMark+base64.RawURLEncoding.EncodeToString(raw), form.Name
			})
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.tokensPage(form, v.submission(), problems, nil)
}

func (s *Server) revokeToken(v *visit) error {
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.RevokeToken(v.ctx(), v.submission(), checklists.TokenID(v.Params("id")), v.person, v.now)
		if err == nil {
			return v.moveOn("/mill/tokens", "token-revoked")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.tokensPage(tokenForm{Use: string(checklists.TokenReads)}, store.NewID(), problems, nil)
}

// apiPage is the API for somebody who reads it.
type apiPage struct {
	*views.Frame
	Root       string
	Address    string // of this server, as the visitor reached it
	Operations []apiLine
	Statuses   []apiStatus
	Key        string // one to try with
	Makes      bool
}

type apiLine struct {
	Method, Path, About string
	Signs               bool
	Who                 plain.Sentence
}

func (s *Server) showAPI(v *visit) error {
	page := apiPage{Frame: v.frame("The API: %d operations", len(s.api)), Root: apiRoot, Address: v.BaseURL(), Statuses: apiStatuses(), Key: store.NewID(), Makes: v.person.Supervises()}
	for i := range s.api {
		o := &s.api[i]
		who, err := s.mayAs(o)
		if err != nil {
			return err
		}
		page.Operations = append(page.Operations, apiLine{Method: o.method, Path: o.path, About: o.about, Signs: o.signs, Who: whoCalls(o, who)})
	}
	return v.show("api", page, nil)
}

// whoCalls says which token an operation needs.
func whoCalls(o *operation, who may) plain.Sentence {
	switch {
	case o.open:
		return plain.Say("without a token")
	case o.method == "GET":
		return plain.Say("any token")
	case who == supervisors:
		return plain.Say("a token that writes as a supervisor or deputy")
	case who == crew:
		return plain.Say("a token that writes as somebody of the crew")
	}
	return plain.Say("a token that writes")
}

// tokenSaid says what an entry about a token reports.
func (t teller) tokenSaid(e store.Entry) (plain.Sentence, string, bool) {
	token, ok := e.Body.(checklists.Token)
	if !ok {
		return plain.Sentence{}, "", false
	}
	if e.Kind == store.KindTokenRevoked {
		return plain.Say("The token %s was taken back.", token.Name), "/mill/tokens", true
	}
	return plain.Say("A token was made for %[1]s, good until %[2]s; it %[3]s.", token.Name, token.Until, tokenMay(token, t.names)), "/mill/tokens", true
}

// tokenKindWords names these kinds of entry.
func tokenKindWords(kind string) (plain.Sentence, bool) {
	switch kind {
	case store.KindTokenMade:
		return plain.Say("Token made"), true
	case store.KindTokenRevoked:
		return plain.Say("Token taken back"), true
	}
	return plain.Sentence{}, false
}
