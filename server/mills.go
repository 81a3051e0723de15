package server

import (
	"context"
	"errors"
	"fmt"
	"html"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/netip"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/valyala/fasthttp"

	"stillsaw/checklists"
	"stillsaw/server/store"
	"stillsaw/views"
)

// MillsConfig is what serves many mills of one database.
type MillsConfig struct {
	DB   *store.Postgres
	Data string // each mill has a folder of its own in it, named by its id
	Now  func() time.Time
	Log  *slog.Logger

	// Address is where other processes on the database reach this one, as host:port.
	Address string

	// Public begins the address people use, as https://*, where * is the mill's host;
	// "" where that is the plain one. Proxies are who may speak for a phone: the proxy
	// in front and the other processes.
	Public  string
	Proxies []netip.Prefix

	// Group is the host of the page across mills, for who looks after several; "" for none.
	Group string

	// Most is how many mills are taken without being asked for, so that their mail,
	// backups and checkpoints are seen to; 0 for none.
	Most int
}

// Mills answers for many mills, each under its own host, with a [Server] of its own:
// what one does in memory the others have no part in. Of several processes on one
// database each holds some of the mills and sends requests for the others on.
type Mills struct {
	config MillsConfig
	app    *fiber.App
	pages  *views.Engine
	words  *views.Catalogue
	crowd  *crowd
	pins   chan struct{} // places of PINs under way, of all mills together
	group  *group        // nil for none
	stands sync.Mutex    // one round of standings at a time
	over   context.Context
	end    context.CancelFunc
	loops  sync.WaitGroup
	begun  sync.Once
	doors  doors

	mu    sync.Mutex
	mills map[string]*millHere // by host
}

// millHere is a mill this process holds, or is about to.
type millHere struct {
	ready  chan struct{} // closed once what follows is there
	server *Server
	answer fasthttp.RequestHandler
	store  *store.Store
	hold   *store.MillHold
	stood  stood
	err    error
}

const (
	takeEvery  = 50 * time.Millisecond // one mill is taken at a time, so that processes started together share them
	lookEvery  = time.Minute
	renewEvery = 5 * time.Second
	loseEvery  = 3 * time.Second
	sentOn     = "Stillsaw-Sent-On" // by another process: it is not sent on again
)

// NewMills makes the application; its pages are parsed once for all mills.
func NewMills(config MillsConfig) (*Mills, error) {
	assets, err := views.NewAssets()
	if err != nil {
		return nil, err
	}
	m := &Mills{config: config, pins: placesOfPINs(), mills: map[string]*millHere{}}
	if m.pages, err = views.NewEngine(assets); err != nil {
		return nil, err
	}
	if m.words, err = views.LoadCatalogue(); err != nil {
		return nil, err
	}
	m.over, m.end = context.WithCancel(context.Background())
	m.crowd = newCrowd((&ways{proxies: config.Proxies}).mayForward)
	m.app = fiber.New(fiber.Config{
		AppName: "Stillsaw", DisableStartupMessage: true, Immutable: true,
		BodyLimit: bodyMost, ReadTimeout: readTimeout, IdleTimeout: idleTimeout,
		ErrorHandler: m.fail,
	})
	listens(m.app)
	m.app.Use(m.dispatch)
	if config.Group != "" {
		if m.group, err = newGroup(m, assets); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// Serve answers on listener until Stop, which it may be called for several of.
func (m *Mills) Serve(listener net.Listener) error {
	m.begun.Do(func() {
		m.loops.Go(m.renewUntilStopped)
		m.loops.Go(m.loseUntilStopped)
		m.loops.Go(m.standUntilStopped)
		if m.config.Most > 0 {
			m.loops.Go(m.takeUntilStopped)
		}
	})
	return m.doors.serve(m.over, m.app, m.crowd, listener)
}

// Stop takes no more requests, finishes those under way, and gives the mills back.
func (m *Mills) Stop() error {
	m.end()
	m.mu.Lock()
	all := make([]*millHere, 0, len(m.mills))
	for host, here := range m.mills {
		all = append(all, here)
		delete(m.mills, host)
	}
	m.mu.Unlock()
	for _, here := range all { // streams first: a shutdown waits for them
		<-here.ready
		if here.server != nil {
			here.server.stop()
		}
	}
	err := errors.Join(m.app.ShutdownWithTimeout(stopLasts), m.doors.close())
	m.loops.Wait()
	if m.group != nil {
		m.group.end()
	}
	for _, here := range all {
		err = errors.Join(err, m.close(here))
	}
	return err
}

func (m *Mills) close(here *millHere) error {
	var err error
	if here.server != nil {
		err = here.server.Stop()
	}
	if here.store != nil {
		err = errors.Join(err, here.store.Close())
	}
	if here.hold != nil {
		err = errors.Join(err, m.config.DB.LetGo(context.Background(), here.hold))
	}
	return err
}

// dispatch gives a request to its mill.
func (m *Mills) dispatch(c *fiber.Ctx) error {
	host := store.Host(string(c.Request().Host()))
	if m.group != nil && host == m.group.host {
		m.group.answer(c.Context())
		return nil
	}
	here, err := m.at(host)
	var elsewhere *store.HeldElsewhere
	switch {
	case errors.As(err, &elsewhere):
		return m.sendOn(c, elsewhere)
	case errors.Is(err, store.ErrNotFound) && (c.Path() == "/healthz" || c.Path() == "/readyz"):
		return m.healthy(c)
	case errors.Is(err, store.ErrNotFound):
		return fiber.NewError(fiber.StatusNotFound, "No mill is known here by the name "+host+". Ask whoever looks after Stillsaw for the mill's address.")
	case err != nil:
		return err
	}
	here.answer(c.Context())
	return nil
}

// healthy answers whoever asks for the process and not for a mill.
func (m *Mills) healthy(c *fiber.Ctx) error {
	ctx, cancel := context.WithTimeout(m.over, 5*time.Second)
	defer cancel()
	c.Set(fiber.HeaderCacheControl, "no-store")
	if err := m.config.DB.Ping(ctx); err != nil {
		m.config.Log.Error("the database does not answer", "error", err)
		return c.Status(fiber.StatusServiceUnavailable).SendString("the database does not answer\n") // for a program that asks, in no reader's language
	}
	return c.SendString("ok\n")
}

// bare is a page of no mill: nothing of a mill's own is there to be shown.
const bare = `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>Stillsaw</title>
<style>body{margin:0;padding:1.5rem;font:1.15rem/1.5 system-ui,sans-serif;color:#1c1f1c;background:#f6f3ec;max-width:38rem}h1{font-size:1.3rem;color:#1d4a35}</style></head>
<body><h1>Stillsaw</h1><p>SAYS</p></body></html>
`

// fail says in plain words what no mill can say itself. Nobody is told of the inside.
func (m *Mills) fail(c *fiber.Ctx, err error) error {
	status, says := fiber.StatusServiceUnavailable, "Stillsaw can't reach this mill's record now. Nothing was saved; what you typed is still on the page you came from. Try again in a moment.\nWhere a screen can't be seen, a machine is HELD until it can."
	var known *fiber.Error
	if errors.As(err, &known) {
		status, says = known.Code, known.Message
	} else {
		m.config.Log.Error("no mill answers", "host", store.Host(string(c.Request().Host())), "error", err)
	}
	c.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	c.Set(fiber.HeaderCacheControl, "no-store")
	c.Set(fiber.HeaderContentSecurityPolicy, "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'")
	c.Set(fiber.HeaderXContentTypeOptions, "nosniff")
	page := strings.Replace(bare, "SAYS", strings.ReplaceAll(html.EscapeString(says), "\n", "</p><p>"), 1)
	return c.Status(status).SendString(page)
}

// at is the mill of a host, which this process takes where no other has it.
func (m *Mills) at(host string) (*millHere, error) {
	for {
		m.mu.Lock()
		if m.over.Err() != nil {
			m.mu.Unlock()
			return nil, store.ErrClosing
		}
		here, known := m.mills[host]
		if !known {
			here = &millHere{ready: make(chan struct{})}
			m.mills[host] = here
		}
		m.mu.Unlock()
		if !known {
			here.err = m.open(host, here)
			if here.err != nil {
				m.forget(host, here)
			}
			close(here.ready)
			return here, here.err
		}
		<-here.ready
		if here.err != nil {
			return nil, here.err
		}
		if !here.hold.Lost() {
			return here, nil
		}
		m.letGo(host, here)
	}
}

// letGo closes a mill that is this process's no more; whoever asks for it from now on
// has it looked up anew.
func (m *Mills) letGo(host string, here *millHere) {
	if !m.forget(host, here) {
		return
	}
	m.config.Log.Warn("a mill is not this process's any more: another took it over, it was renamed or removed, or the database was upgraded", "host", host)
	m.loops.Go(func() {
		if err := m.close(here); err != nil {
			m.config.Log.Warn("a mill that is not this process's any more did not close well", "host", host, "error", err)
		}
	})
}

func (m *Mills) forget(host string, here *millHere) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.mills[host] != here {
		return false
	}
	delete(m.mills, host)
	return true
}

// open takes the mill and starts what answers for it.
func (m *Mills) open(host string, here *millHere) (err error) {
	ctx, cancel := context.WithTimeout(m.over, requestLasts)
	defer cancel()
	tenant, err := m.config.DB.TenantAt(ctx, host)
	if err != nil {
		return err
	}
	if here.hold, err = m.config.DB.Hold(ctx, tenant.Mill, m.config.Address); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, m.close(here))
		}
	}()
	dir := MillFolder(m.config.Data, tenant.Mill)
	if here.store, err = m.config.DB.Open(ctx, dir, tenant.Mill, here.hold); err != nil {
		return err
	}
	code := ""
	if _, err := here.store.TheMill(ctx); errors.Is(err, store.ErrNotFound) {
		code = tenant.Code
	} else if err != nil {
		return err
	}
	log := m.config.Log.With("mill", host)
	if err := here.store.EnsureKeys(ctx, m.config.Now().UTC()); err != nil {
		log.Warn("the record can't be signed", "error", err)
	}
	here.server, err = New(Config{Store: here.store, Now: m.config.Now, Log: log, SetUpCode: code, pages: m.pages, words: m.words, hashing: m.pins,
		Public: strings.Replace(m.config.Public, "*", host, 1), Proxies: m.config.Proxies})
	if err != nil {
		return err
	}
	here.server.gate.Lock()
	here.server.begin()
	here.server.gate.Unlock()
	here.answer = here.server.app.Handler()
	return nil
}

// MillFolder is the folder in data with what of a mill lies in no database.
func MillFolder(data string, mill checklists.MillID) string {
	return filepath.Join(data, "mills", string(mill))
}

// sendOn has another process answer. What it says is passed on as it comes, so that
// streams go through, and the connection ends with it.
func (m *Mills) sendOn(c *fiber.Ctx, to *store.HeldElsewhere) error {
	if c.Get(sentOn) != "" || to.Address == "" || to.Address == m.config.Address {
		return fmt.Errorf("a request was sent on to a process that has the mill no longer: %w", to)
	}
	conn, err := (&net.Dialer{Timeout: 5 * time.Second}).DialContext(m.over, "tcp", to.Address)
	if err != nil {
		return err
	}
	request := c.Request()
	from := hostOnly(c.Context().RemoteAddr().String())
	if m.crowd.proxy(from) {
		if said := string(request.Header.Peek(fiber.HeaderXForwardedFor)); said != "" {
			from = said + ", " + from
		}
	} else {
		for _, header := range []string{fiber.HeaderXForwardedProto, fiber.HeaderXForwardedHost, "Forwarded"} {
			request.Header.Del(header)
		}
	}
	request.Header.Set(fiber.HeaderXForwardedFor, from)
	request.Header.Set(sentOn, "1")
	request.SetConnectionClose()
	if _, err := request.WriteTo(conn); err != nil {
		return errors.Join(err, conn.Close())
	}
	hijack(c, func(phone net.Conn) {
		stop := context.AfterFunc(m.over, func() { conn.Close() })
		defer stop()
		defer conn.Close()
		defer phone.Close()
		io.Copy(phone, conn) // until either is gone, which is how it ends
	})
	return nil
}

// rests waits that long, and tells whether it goes on then.
func (m *Mills) rests(long time.Duration) bool {
	select {
	case <-m.over.Done():
		return false
	case <-time.After(long):
		return true
	}
}

// renewUntilStopped looks after the connection that holds the mills.
func (m *Mills) renewUntilStopped() {
	for m.rests(renewEvery) {
		if err := m.config.DB.Renew(m.over); err != nil && m.over.Err() == nil {
			m.config.Log.Warn("the connection that holds the mills can't be made again", "error", err)
		}
	}
}

// loseUntilStopped finds out which mills are this process's no more, so that nobody is
// shown them as they were: what is pressed on such a page is not saved.
func (m *Mills) loseUntilStopped() {
	for m.rests(loseEvery) {
		if err := m.lose(m.over); err != nil && m.over.Err() == nil {
			m.config.Log.Warn("which mills are still this process's can't be told", "error", err)
		}
	}
}

func (m *Mills) lose(ctx context.Context) error {
	open := m.here()
	holds := make([]*store.MillHold, 0, len(open))
	for _, here := range open {
		holds = append(holds, here.hold)
	}
	if len(holds) == 0 {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, standLasts)
	defer cancel()
	if err := m.config.DB.LoseWhatIsNot(ctx, holds); err != nil {
		return err
	}
	for host, here := range open {
		if here.hold.Lost() {
			m.letGo(host, here)
		}
	}
	return nil
}

// takeUntilStopped takes mills nobody has, so that what is to be done without being
// asked for is done somewhere.
func (m *Mills) takeUntilStopped() {
	for again := true; again; again = m.rests(lookEvery) {
		all, err := m.config.DB.Tenants(m.over)
		if err != nil && m.over.Err() == nil {
			m.config.Log.Warn("the mills of the database can't be listed", "error", err)
		}
		rand.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		m.take(all)
	}
}

// take takes those of mills that nobody has, one after the other, up to the most.
func (m *Mills) take(mills []store.Tenant) {
	for _, next := range mills {
		if !m.rests(takeEvery) {
			return
		}
		if m.count() >= m.config.Most {
			continue
		}
		_, err := m.at(next.Host)
		var elsewhere *store.HeldElsewhere
		if err != nil && !errors.As(err, &elsewhere) && m.over.Err() == nil {
			m.config.Log.Warn("a mill can't be opened", "mill", next.Host, "error", err)
		}
	}
}

func (m *Mills) count() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return len(m.mills)
}
