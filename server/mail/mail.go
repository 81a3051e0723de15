// Package mail hands one message to a mail server. It knows nothing of what the
// message is about, keeps nothing and tries once.
package mail

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"
)

// How the connection is protected, as in the mill's settings.
const (
	StartTLS = ""        // must turn encrypted
	TLS      = "tls"     // encrypted from the first byte
	Offered  = "offered" // encrypted where the server offers it
	Open     = "open"    // never
)

// Server is where messages are handed in.
type Server struct {
	Host     string
	Port     int
	Security string
	User     string // "" where the server asks for none
	Secret   string
	// Trust is nil for the authorities this computer knows.
	Trust *tls.Config
}

// Message is one mail as plain text to one person.
type Message struct {
	ID       string // sent again it has the same one, so that a mail program shows it once
	From, To string
	FromName string
	Subject  string
	Body     string
	Date     time.Time
}

// lasts is how long one step with the server may take.
const lasts = 10 * time.Second

// Send hands m in. An error means that the server did not take it, or that this
// is not known. A password never goes over a connection that is not encrypted.
func (s Server) Send(ctx context.Context, m Message) error {
	letter, err := m.letter()
	if err != nil {
		return err
	}
	client, err := gomail.NewClient(s.Host, s.options()...)
	if err != nil {
		return fmt.Errorf("mail server %s: %w", s.Host, err)
	}
	line, err := client.DialToSMTPClientWithContext(ctx)
	if err != nil {
		return fmt.Errorf("mail server %s, port %d: %w", s.Host, s.Port, err)
	}
	err = client.SendWithSMTPClient(line, letter)
	// Taken is taken: a server that hangs up badly afterwards must not have it sent twice.
	_ = client.CloseWithSMTPClient(line)
	if err != nil {
		return fmt.Errorf("mail server %s: %w", s.Host, err)
	}
	return nil
}

func (s Server) options() []gomail.Option {
	all := []gomail.Option{gomail.WithPort(s.Port), gomail.WithTimeout(lasts)}
	switch s.Security {
	case TLS:
		all = append(all, gomail.WithSSL())
	case Offered:
		all = append(all, gomail.WithTLSPolicy(gomail.TLSOpportunistic))
	case Open:
		all = append(all, gomail.WithTLSPolicy(gomail.NoTLS))
	default:
		all = append(all, gomail.WithTLSPolicy(gomail.TLSMandatory))
	}
	if s.Trust != nil {
		trust := s.Trust.Clone()
		trust.ServerName = s.Host
		all = append(all, gomail.WithTLSConfig(trust))
	}
	if s.User != "" {
		// The strongest the server has; in the open none that shows the password.
		all = append(all, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(s.User), gomail.WithPassword(s.Secret))
	}
	return all
}

func (m Message) letter() (*gomail.Msg, error) {
	letter := gomail.NewMsg()
	if err := letter.FromFormat(m.FromName, m.From); err != nil {
		return nil, fmt.Errorf("the sender's address: %w", err)
	}
	if err := letter.To(m.To); err != nil {
		return nil, fmt.Errorf("the address: %w", err)
	}
	_, host, _ := strings.Cut(m.From, "@")
	letter.SetMessageIDWithValue(m.ID + "@" + host)
	letter.SetDateWithValue(m.Date)
	letter.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834, 5: nobody's out-of-office answers
	letter.Subject(m.Subject)
	letter.SetBodyString(gomail.TypeTextPlain, m.Body)
	return letter, nil
}

// Permanent tells whether trying again is of no use: the server refused the
// message for good, a reply of 5yz (RFC 5321, 4.2.1).
func Permanent(err error) bool {
	var refused *gomail.SendError
	return errors.As(err, &refused) && !refused.IsTemp() && refused.ErrorCode() >= 500
}
