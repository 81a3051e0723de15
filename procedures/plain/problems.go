package plain

import (
	"errors"
	"strings"
)

// Problem is one thing wrong with what somebody entered: the form field it
// stands in and, in the imperative, what would be right.
type Problem struct {
	Field string
	Want  Sentence
}

// Problems is every Problem of one submission, so that a form marks them all
// at once. It is an error when it holds any.
type Problems []Problem

// Unless notes that field wants something else, unless ok holds. State ranges
// so that NaN fails them: x >= 0 && x <= 6, not !(x < 0).
func (p *Problems) Unless(ok bool, field, want string, args ...any) {
	if !ok {
		*p = append(*p, Problem{Field: field, Want: Say(want, args...)})
	}
}

// Add takes over every problem of err with its field prefixed, when err is a
// Problems; any other error becomes a problem of the field named by prefix, a
// Refusal in its own words, which the reader's language has.
func (p *Problems) Add(prefix string, err error) {
	if err == nil {
		return
	}
	more, ok := err.(Problems)
	if !ok {
		*p = append(*p, Problem{Field: prefix, Want: inWords(err)})
		return
	}
	for _, one := range more {
		one.Field = prefix + one.Field
		*p = append(*p, one)
	}
}

// inWords is err as a sentence.
func inWords(err error) Sentence {
	var refused *Refusal
	switch {
	case !errors.As(err, &refused):
		return Say("%s", err.Error())
	case refused.Clause == "":
		return refused.Why
	}
	return Say("%[1]s (%[2]s)", refused.Why, refused.Clause)
}

// At takes over every problem of err as problems of field, whatever err calls
// it: what a parser of one value found wrong stands at the input it was typed in.
func (p *Problems) At(field string, err error) {
	if err == nil {
		return
	}
	more, ok := err.(Problems)
	if !ok {
		p.Add(field, err)
		return
	}
	for _, one := range more {
		*p = append(*p, Problem{Field: field, Want: one.Want})
	}
}

// For returns what field wants, or nil; templates use it beside each input.
func (p Problems) For(field string) *Sentence {
	for i := range p {
		if p[i].Field == field {
			return &p[i].Want
		}
	}
	return nil
}

// Err is nil when there is no problem, never a typed nil.
func (p Problems) Err() error {
	if len(p) == 0 {
		return nil
	}
	return p
}

// Error lists every field with what it wants.
func (p Problems) Error() string {
	said := make([]string, len(p))
	for i, one := range p {
		said[i] = one.Field + ": " + one.Want.String()
	}
	return strings.Join(said, "; ")
}

// Refusal is an act the rules do not allow as things stand. It says what is
// missing and, where there is one, the clause that asks for it.
type Refusal struct {
	Why    Sentence
	Clause string // "29 CFR 1910.147(d)(6)", or "" where no rule was found
	About  string // which part of what was entered, "told"; "" for the act as a whole
}

// Refuse makes a Refusal.
func Refuse(clause, why string, args ...any) *Refusal {
	return &Refusal{Why: Say(why, args...), Clause: clause}
}

// Error is the refusal in English with its clause.
func (r *Refusal) Error() string {
	if r.Clause == "" {
		return r.Why.String()
	}
	return r.Why.String() + " (" + r.Clause + ")"
}
