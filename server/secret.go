package server

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"slices"
	"sort"
	"strings"
	"unicode"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

const (
	pinLeast, pinMost = 4, 12
	passwordLeast     = 10
	secretMost        = 128 // longer input is not worth hashing
	ownLeast          = 6   // letters and digits of a password that are not words of the place
)

// commonPasswords are the 8,000 most used passwords of at least passwordLeast
// characters, in lower case, by the first commonSize bytes of their SHA-256, in
// order. Source: Mark Burnett, Ten Million Passwords (2015, released to the public
// domain), as ranked in SecLists (MIT licence), 10-million-password-list-top-1000000.
// TestCommonPasswordsAreTheFirstOfTheirSource makes the file from it.
//
//go:embed common_passwords.sha256
var commonPasswords []byte

const commonSize = 6

// common tells whether a password is among those that many use, in capitals or not.
func common(password string) bool {
	digest := sha256.Sum256([]byte(strings.ToLower(password)))
	found := sort.Search(len(commonPasswords)/commonSize, func(i int) bool {
		return bytes.Compare(commonPasswords[i*commonSize:(i+1)*commonSize], digest[:commonSize]) >= 0
	}) * commonSize
	return found < len(commonPasswords) && bytes.Equal(commonPasswords[found:found+commonSize], digest[:commonSize])
}

// placeWords stand for any mill: whoever guesses tries them first.
func placeWords() []string {
	return []string{"stillsaw", "sawmill", "sawyer", "lumber", "timber", "supervisor", "password", "mill", "saw"}
}

// ownPart is what of a password's letters and digits is no word of the place, of
// the mill's name, the person's, or of every mill; and whether that is less than all.
func ownPart(password string, names ...string) (own string, less bool) {
	words := placeWords()
	for _, name := range names {
		for _, word := range strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) }) {
			if len([]rune(word)) > 2 {
				words = append(words, word)
			}
		}
	}
	slices.SortStableFunc(words, func(a, b string) int { return len(b) - len(a) })
	all := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, strings.ToLower(password))
	own = all
	for _, word := range words {
		own = strings.ReplaceAll(own, word, "")
	}
	return own, own != all
}

// CheckSecret tells what is wrong with a new PIN or password for the role: a
// supervisor has a password, everybody else at least a PIN. Names are those of the
// mill and of the person it is for.
func CheckSecret(role procedures.Role, field, secret string, names ...string) plain.Problems {
	var problems plain.Problems
	long := len(secret) >= passwordLeast && len(secret) <= secretMost
	digits := secret != "" && strings.IndexFunc(secret, func(r rune) bool { return !unicode.IsDigit(r) }) < 0
	pin := digits && len(secret) >= pinLeast && len(secret) <= pinMost && role != procedures.Supervisor
	switch {
	case pin:
		problems.Unless(!obvious(secret), field, "a PIN that is harder to guess: not one digit over and over, not a row like 1234")
	case !long && role == procedures.Supervisor:
		problems.Unless(false, field, "a password of at least %d characters", passwordLeast)
	case !long:
		problems.Unless(false, field, "a PIN of %d to %d digits, or a longer password", pinLeast, pinMost)
	case common(secret):
		problems.Unless(false, field, "a password that is harder to guess: this one is among those that many people use")
	default:
		own, less := ownPart(secret, names...)
		problems.Unless(!less || len([]rune(own)) >= ownLeast, field, "a password that is harder to guess: without the names of the mill and the person, and words of the trade, little is left of this one")
	}
	return problems
}

// newSecretNames are names a new secret may not be made of.
func (v *visit) newSecretNames(p procedures.Person) []string { return []string{v.mill.Name, p.Name} }

// obvious: every digit the same distance from the one before.
func obvious(pin string) bool {
	step := int(pin[1]) - int(pin[0])
	if step < -1 || step > 1 {
		return false
	}
	for i := 2; i < len(pin); i++ {
		if int(pin[i])-int(pin[i-1]) != step {
			return false
		}
	}
	return true
}
