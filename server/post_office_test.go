package server

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"mime"
	"mime/quotedprintable"
	"net"
	"net/http/httptest"
	netmail "net/mail"
	"strings"
	"sync"
	"testing"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// posted is one mail as the post office took it.
type posted struct {
	To, Subject, Body, ID string
	Encrypted             bool
	User                  string
}

// postOffice is a mail server on this machine, written by others: it offers
// STARTTLS where it has a certificate, and PLAIN only over that.
type postOffice struct {
	t     *testing.T
	host  string
	port  int
	trust *tls.Config

	mu     sync.Mutex
	taken  []posted
	asked  int     // how often a mail was handed in
	refuse []error // of the next mails, in order
}

const postSecret = "hunter-of-sawdust"

func newPostOffice(t *testing.T, encrypts bool) *postOffice {
	t.Helper()
	o := &postOffice{t: t, host: "127.0.0.1"}
	s := smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) { return &postSession{office: o, conn: c}, nil }))
	s.Domain = "post.test"
	if encrypts {
		lent := httptest.NewTLSServer(nil)
		t.Cleanup(lent.Close)
		s.TLSConfig = &tls.Config{Certificates: lent.TLS.Certificates, MinVersion: tls.VersionTLS12}
		roots := x509.NewCertPool()
		roots.AddCert(lent.Certificate())
		o.trust = &tls.Config{RootCAs: roots, MinVersion: tls.VersionTLS12}
	}
	listener, err := new(net.ListenConfig).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	o.port = listener.Addr().(*net.TCPAddr).Port
	served := make(chan error, 1)
	go func() { served <- s.Serve(listener) }()
	t.Cleanup(func() {
		require.NoError(t, s.Close())
		<-served
	})
	return o
}

// settings hand mail in here.
func (o *postOffice) settings() checklists.MailSettings {
	return checklists.MailSettings{On: true, Host: o.host, Port: o.port, User: "saw", From: "saw@mill.example", Hour: 6, Base: "http://mill.test"}
}

func (o *postOffice) mails() []posted {
	o.mu.Lock()
	defer o.mu.Unlock()
	return append([]posted(nil), o.taken...)
}

type postSession struct {
	office *postOffice
	conn   *smtp.Conn
	user   string
	to     []string
}

func (s *postSession) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *postSession) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, secret string) error {
		if user != "saw" || secret != postSecret {
			return errors.New("not known here")
		}
		s.user = user
		return nil
	}), nil
}

func (s *postSession) Mail(string, *smtp.MailOptions) error {
	if s.user == "" && s.office.trust != nil {
		return smtp.ErrAuthRequired
	}
	return nil
}

func (s *postSession) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.to = append(s.to, to)
	return nil
}

func (s *postSession) Data(r io.Reader) error {
	letter, err := netmail.ReadMessage(r)
	if err != nil {
		return err
	}
	o := s.office
	o.mu.Lock()
	defer o.mu.Unlock()
	o.asked++
	if len(o.refuse) > 0 {
		err := o.refuse[0]
		if o.refuse = o.refuse[1:]; err != nil {
			return err
		}
	}
	var text io.Reader = letter.Body
	if letter.Header.Get("Content-Transfer-Encoding") == "quoted-printable" {
		text = quotedprintable.NewReader(text)
	}
	body, err := io.ReadAll(text)
	if err != nil {
		return err
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(letter.Header.Get("Subject"))
	if err != nil {
		return err
	}
	_, encrypted := s.conn.TLSConnectionState()
	o.taken = append(o.taken, posted{To: strings.Join(s.to, ","), Subject: subject, Body: strings.ReplaceAll(string(body), "\r\n", "\n"), ID: letter.Header.Get("Message-Id"), Encrypted: encrypted, User: s.user})
	return nil
}

func (s *postSession) Reset()        { s.to = nil }
func (s *postSession) Logout() error { return nil }

// mailing sets the mill's mail up with the office, and has who get it.
func (m *testMill) mailing(o *postOffice, who ...string) {
	m.t.Helper()
	secret := postSecret
	m.server.mailTrust = o.trust
	require.NoError(m.t, m.desk().KeepMailSettings(m.t.Context(), o.settings(), &secret, m.people["sam"], m.clock.Now()))
	for _, name := range who {
		require.NoError(m.t, m.desk().KeepMailRecipient(m.t.Context(), m.people[name].ID, name+"@mill.example", m.people[name], m.clock.Now()))
	}
}

// round has the server do what it does every minute.
func (m *testMill) round() {
	m.t.Helper()
	require.NoError(m.t, m.server.mailRound(m.t.Context()))
}

// reminderArrives has the server do a round, beside those a served one does by
// itself, and requires that exactly one mail to who says text.
func (m *testMill) reminderArrives(o *postOffice, who, text string) {
	m.t.Helper()
	m.round()
	n := 0
	for _, one := range o.mails() {
		if one.To == who+"@mill.example" && strings.Contains(one.Body, text) {
			n++
		}
	}
	require.Equal(m.t, 1, n, "mails to %s that say %s", who, text)
}
