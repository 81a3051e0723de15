package server

import (
	"bytes"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/server/store"
	"stillsaw/views"
)

const (
	// sharedFor is how long a first page made for one phone may be shown to others,
	// where nothing was written meanwhile: what a machine may do changes with the time,
	// too.
	sharedFor = time.Second

	// sharedMost is how many sorts of it are kept: languages, colours, units. Others
	// are made for each phone.
	sharedMost = 32
)

// sharedFronts are first pages as phones see them on which nobody is signed in: when
// something changes all of them ask at once, for the same.
type sharedFronts = keptUntil[frontSort, sharedFront]

// frontSort is all that such a page depends on beside the record and the time.
type frontSort struct {
	mill     checklists.MillID
	wall     bool
	settings store.Settings
	language string
	typedIn  measures
	encrypt  string
	encoding string
}

// sharedFront is one of them; body is nil until it was made.
type sharedFront struct {
	mu   sync.Mutex
	at   time.Time
	body []byte
}

// asOf is the page as it was made a moment ago, or is made now. Who asks meanwhile
// waits for it.
func (f *sharedFront) asOf(now time.Time, render func() ([]byte, error)) ([]byte, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if age := now.Sub(f.at); f.body != nil && age >= 0 && age < sharedFor {
		return f.body, nil
	}
	body, err := render()
	if err == nil {
		f.at, f.body = now, body
	}
	return body, err
}

// sharesFront tells whether others are shown the same first page.
func (v *visit) sharesFront() bool {
	query := v.Context().QueryArgs()
	return v.person.ID == "" && (query.Len() == 0 || query.Len() == 1 && query.Has("wall"))
}

// showSharedFront shows the first page as it was made a moment ago for another phone,
// or makes it.
func (v *visit) showSharedFront() error {
	changed := v.s.store.Changed() // before anything is read
	sort := frontSort{mill: v.mill.ID, wall: v.onWall(), settings: v.settings, language: v.words.Lang(), typedIn: v.typedIn, encrypt: v.s.encryptAt(v.Ctx),
		encoding: views.BestEncoding(v.Get(fiber.HeaderAcceptEncoding))}
	shared := v.s.fronts.of(sort, changed, sharedMost)
	if shared == nil {
		shared = &sharedFront{}
	}
	body, err := shared.asOf(v.now, func() ([]byte, error) {
		page, err := v.frontPage()
		if err != nil {
			return nil, err
		}
		var whole bytes.Buffer
		if err := v.App().Config().Views.Render(&whole, page.template(), page); err != nil || sort.encoding == "" {
			return whole.Bytes(), err
		}
		return v.s.packers.pack(sort.encoding, whole.Bytes())
	})
	if err != nil {
		return err
	}
	v.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	v.Vary(fiber.HeaderAcceptEncoding)
	if sort.encoding != "" {
		v.Set(fiber.HeaderContentEncoding, sort.encoding)
	}
	return v.Send(body)
}
