package checklists

import (
	"strings"
	"time"
	"unicode"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// MailSecurity is how the connection to a mail server is protected. The zero
// value asks for encryption.
type MailSecurity string

const (
	MailStartTLS MailSecurity = ""        // begins in the open and must turn encrypted (RFC 3207)
	MailTLS      MailSecurity = "tls"     // encrypted from the first byte (RFC 8314, port 465)
	MailOffered  MailSecurity = "offered" // encrypted where the server offers it
	MailOpen     MailSecurity = "open"    // never: only for a server on the mill's own network
)

// MailSettings is how reminders are sent by e-mail. The secret that goes with
// User is kept apart. The zero value sends nothing.
type MailSettings struct {
	On       bool         `json:"on"`
	Host     string       `json:"host"`
	Port     int          `json:"port"`
	Security MailSecurity `json:"security"`
	User     string       `json:"user"` // "" where the server asks for none
	From     string       `json:"from"` // address of the sender
	Hour     int          `json:"hour"` // of the day in the mill's zone at which the day's mail goes out
	Base     string       `json:"base"` // address of Stillsaw, for links

	By procedures.PersonID `json:"by"`
	At time.Time           `json:"at"`
}

// Keep returns the settings as by sets them at now. Its error is a
// [plain.Problems] for the fields "host", "port", "security", "from" and "hour",
// or a [plain.Refusal].
func (s MailSettings) Keep(by procedures.Person, now time.Time) (MailSettings, error) {
	if !by.Supervises() {
		return MailSettings{}, plain.Refuse("", "Only a supervisor or deputy may do this; ask one to sign in.")
	}
	var bad plain.Problems
	bad.Unless(s.Host != "" && len(s.Host) <= 253 && !strings.ContainsFunc(s.Host, notOfAHost), "host", "the name of the mail server, such as mail.example.com")
	bad.Unless(s.Port > 0 && s.Port < 1<<16, "port", "a port from 1 to 65535; 587 is usual, 465 with encryption from the start")
	bad.Unless(s.Security == MailStartTLS || s.Security == MailTLS || s.Security == MailOffered || s.Security == MailOpen, "security", "one of these")
	bad.Unless(MailAddress(s.From), "from", "an address the server sends for, such as saw@example.com")
	bad.Unless(s.Hour >= 0 && s.Hour < 24, "hour", "an hour of the day, 0 to 23")
	if err := bad.Err(); err != nil {
		return MailSettings{}, err
	}
	s.By, s.At = by.ID, now
	return s, nil
}

func notOfAHost(r rune) bool {
	return r != '.' && r != '-' && r != ':' && !unicode.IsLetter(r) && !unicode.IsDigit(r)
}

// MailAddress tells whether address can be one: a name, @, a host (RFC 5321,
// 4.1.2 and 4.5.3.1, without quoted names). Only sending shows whether it is.
func MailAddress(address string) bool {
	at := strings.LastIndex(address, "@")
	if at < 1 || at > 64 || len(address) > 254 || at == len(address)-1 || strings.ContainsFunc(address[at+1:], notOfAHost) {
		return false
	}
	return !strings.ContainsFunc(address[:at], func(r rune) bool {
		return unicode.IsSpace(r) || unicode.IsControl(r) || strings.ContainsRune(`()<>[]:;@\,"`, r)
	})
}

// Daily names the day whose mail is to go out by now, "day 2026-03-03", and is ""
// before its hour. loc is the mill's zone. An hour the clock skips counts from the
// next; one it repeats is one day's all the same.
func (s MailSettings) Daily(now time.Time, loc *time.Location) string {
	local := now.In(loc)
	if !s.On || local.Hour() < s.Hour {
		return ""
	}
	return "day " + local.Format(time.DateOnly)
}

// MailWait is how long after the try numbered from 1 the next one comes, and
// whether there is one. Common practice, no source: RFC 5321, 4.5.4.1 asks a relay
// for half an hour and days of trying; a reminder is worth little after a day.
func MailWait(try int) (time.Duration, bool) {
	waits := []time.Duration{time.Minute, 5 * time.Minute, 15 * time.Minute, time.Hour, 3 * time.Hour, 6 * time.Hour, 12 * time.Hour}
	if try < 1 || try > len(waits) {
		return 0, false
	}
	return waits[try-1], true
}
