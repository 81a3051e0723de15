package server

import (
	"context"
	"errors"
	"time"

	"github.com/alexedwards/argon2id"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// Failed tries cost nothing at first, then a wait that doubles each time. A
// whole crew may share one address, so an address is given more rope.
const (
	freeTriesPerson  = 4
	freeTriesAddress = 20
	firstWait        = 2 * time.Second
	longestWait      = 15 * time.Minute
	addressForgets   = time.Hour
)

// waitAfter is how long must pass after the last of failed tries in a row.
func waitAfter(failed, free int) time.Duration {
	if failed < free {
		return 0
	}
	wait := firstWait
	for ; failed > free && wait < longestWait; failed-- {
		wait *= 2
	}
	return min(wait, longestWait)
}

// tryLimits says how fast PINs may be tried here.
func tryLimits() store.TryLimits {
	return store.TryLimits{
		Person:  func(failed int) time.Duration { return waitAfter(failed, freeTriesPerson) },
		Address: func(failed int) time.Duration { return waitAfter(failed, freeTriesAddress) },
		Forget:  addressForgets,
	}
}

// standIn is compared with when there is no such person, so that a wrong name
// takes as long as a wrong PIN.
const standIn = "$argon2id$v=19$m=19456,t=2,p=1$c3RpbGxzYXdzdGlsbHNhdw$ZG9lcyBub3QgbWF0Y2ggYW55dGhpbmcgYXQgYWxsISE"

// proof is what came of a PIN or password. Problems are of the field "pin".
type proof struct {
	problems plain.Problems
	waits    bool // it was not looked at: too many were wrong before
	wait     time.Duration
}

// prove checks a PIN or password of person, who may be nobody. One person's tries
// wait for each other, and a wrong one is counted on the disk before it is answered
// and before the next is compared, so that many at once are no quicker than one after
// another. Where the person is signed in, tries from elsewhere and of others do not
// count.
func (v *visit) prove(person procedures.Person, secret string) (proof, error) {
	gate := v.s.turns.of(string(v.mill.ID), string(person.ID))
	select {
	case gate.turn <- struct{}{}:
	case <-v.ctx().Done():
		return proof{}, v.ctx().Err()
	}
	defer func() { <-gate.turn }()
	if err := gate.settle(v.ctx()); err != nil {
		return proof{}, err
	}
	address := v.IP()
	here := person.ID != "" && person.ID == v.person.ID
	if here {
		address = ""
	}
	wait, err := v.desk.MayTry(v.ctx(), person.ID, address, tryLimits(), v.now)
	if wait.Address > 0 || wait.Person > 0 {
		v.s.meter.Secret("made to wait")
		notice(v.Ctx, slowedLine, "")
	}
	switch {
	case err != nil:
		return proof{}, err
	case wait.Address > 0 && wait.Address >= wait.Person: // a new PIN would not help
		return mustWait(plain.Say("too many wrong tries from this phone or network; wait %s and try again", inSeconds(wait.Address)), wait.Address), nil
	case wait.Person > 0:
		return mustWait(plain.Say("too many wrong tries; wait %s and try again, or have the supervisor set a new one", inSeconds(wait.Person)), wait.Person), nil
	}
	right, err := v.matches(person, secret)
	if err != nil {
		return proof{}, err
	}
	if right {
		v.s.meter.Secret("right")
		if wait.Failed {
			v.desk.RightTry(person.ID, address)
		}
		return proof{}, nil
	}
	v.s.meter.Secret("wrong")
	notice(v.Ctx, wrongPINLine, "")
	wrong := proof{problems: plain.Problems{{Field: "pin", Want: plain.Say("PIN or password: that is not it; try again")}}}
	return wrong, gate.wrong(v.ctx(), owedTry{v.desk, person.ID, address, v.now})
}

func mustWait(why plain.Sentence, wait time.Duration) proof {
	return proof{problems: plain.Problems{{Field: "pin", Want: why}}, waits: true, wait: inSeconds(wait)}
}

// inSeconds rounds up, so that waiting that long is long enough.
func inSeconds(wait time.Duration) time.Duration {
	return (wait + time.Second - 1).Truncate(time.Second)
}

func (v *visit) matches(person procedures.Person, secret string) (bool, error) {
	digest, err := v.desk.Digest(v.ctx(), person.ID)
	if errors.Is(err, store.ErrNotFound) || person.Left {
		digest, err = standIn, nil
	}
	if err != nil {
		return false, err
	}
	return v.s.proves(v.ctx(), secret, digest)
}

// proves holds a PIN or password against a digest once there is a place for it. The
// digest [standIn] takes as long as any and is nobody's.
func (s *Server) proves(ctx context.Context, secret, digest string) (bool, error) {
	if len(secret) > secretMost {
		secret = ""
	}
	select {
	case s.hashing <- struct{}{}:
	case <-ctx.Done():
		return false, ctx.Err()
	}
	defer func() { <-s.hashing }()
	right, err := argon2id.ComparePasswordAndHash(secret, digest)
	return right && secret != "" && digest != standIn, err
}

// sign asks the PIN again for an act that is signed; problems are of the field
// "pin".
func (v *visit) sign() (plain.Problems, error) {
	signed, err := v.signed()
	return signed.problems, err
}

// signedThen does what was signed for and moves on to a page, or shows again what
// has problems.
func (v *visit) signedThen(to, done string, do func() error, again func(plain.Problems) error) error {
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		err := do()
		if err == nil {
			return v.moveOn(to, done)
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return again(problems)
}

// signed is what came of the PIN in the form sent. It is looked at once, however
// often a handler asks.
func (v *visit) signed() (proof, error) {
	if v.proof != nil {
		return *v.proof, nil
	}
	if v.FormValue("pin") == "" {
		return proof{problems: plain.Problems{{Field: "pin", Want: plain.Say("enter your PIN or password again, to sign")}}}, nil
	}
	signed, err := v.prove(v.person, v.FormValue("pin"))
	if err == nil {
		v.proof = &signed
	}
	return signed, err
}

// Hash makes the digest that is stored of a PIN or password.
func Hash(secret string) (string, error) { return argon2id.CreateHash(secret, hashCost) }
