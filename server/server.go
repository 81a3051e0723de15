// Package server is the fiber application: routes, handlers, sign-in, and the
// one place where an error becomes a status. One file a screen. A handler reads
// what was typed, runs one command and shows what came of it; it decides nothing
// about safety.
package server

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"runtime"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/gofiber/fiber/v2/middleware/recover"

	"stillsaw/checklists"
	"stillsaw/server/backup"
	"stillsaw/server/meter"
	"stillsaw/server/search"
	"stillsaw/server/secure"
	"stillsaw/server/store"
	"stillsaw/views"
)

// Config is what a server is made of.
type Config struct {
	Store *store.Store
	Now   func() time.Time
	Log   *slog.Logger

	// SetUpCode lets the first supervisor set the mill up; it is printed at the
	// terminal and works until there is a mill.
	SetUpCode string

	// MailTrust is nil where mail servers are trusted by the authorities this
	// computer knows.
	MailTrust *tls.Config

	// Secure has the certificates of [Server.ServeSecure]; nil where there is none.
	Secure *secure.Keeper

	// Public is the address everybody may use, as https://mill.example.com, and
	// Proxies who may say that a request came over it; "" and none at a mill that
	// is only on its own network.
	Public  string
	Proxies []netip.Prefix

	// Of another server of this process: pages parsed already, nil: parsed anew, and
	// the places of PINs under way, nil: as many as there are cores.
	pages   *views.Engine
	hashing chan struct{}
	words   *views.Catalogue // other words than the product's; nil: those
}

// Server is the application with what its handlers share.
type Server struct {
	app      *fiber.App
	store    *store.Store
	now      func() time.Time
	log      *slog.Logger
	code     string
	words    *views.Catalogue
	dates    func() map[string]search.Names // of what somebody looks for, by language
	assets   *views.Assets
	hashing  chan struct{}   // one place for each PIN that may be checked at once
	turns    *turns          // one try of a PIN at a time for each person
	decoding chan struct{}   // the one place for a photo being decoded
	stopping context.Context // over once Stop begins: no stream goes on
	stop     context.CancelFunc
	under    context.Context // over once Stop ends: no request goes on
	drop     context.CancelFunc
	routes   []Route
	api      []operation

	apiDocument func() ([]byte, error) // made when it is first asked for

	mailTrust *tls.Config
	mailing   sync.Mutex     // one round of mail at a time
	loops     sync.WaitGroup // work that goes on beside requests

	witnesses  *http.Client // asks other Stillsaws
	witnessing sync.Mutex   // one witness is given a checkpoint at a time
	takings    takings      // of checkpoints of other mills

	backingUp sync.Mutex // one backup at a time
	makers    map[checklists.BackupID]*backup.Maker

	verifying sync.Mutex // one check of the whole record at a time

	exporting chan struct{} // one export at a time

	ways  ways
	crowd *crowd // of connections

	packers *packers

	meter     *meter.Meter
	lookout   *lookout
	phones    phones   // on which somebody is signed in
	codeTries takings  // of the set-up code
	streams   *streams // pages that hear of changes
	fronts    sharedFronts
	calendars keptCalendars
	readiness readiness

	doors doors
	gate  sync.Mutex // of what follows
	begun bool
}

// How much the server takes in and how long it waits for it. A phone's photo is
// checked on its own against photoMost, so that its form comes back with what
// was typed; the body limit is only the outer wall.
const (
	bodyMost     = 48 << 20
	wordsMost    = 8 << 20 // of a body without files
	readTimeout  = 60 * time.Second
	idleTimeout  = 90 * time.Second
	requestLasts = 30 * time.Second
	stopLasts    = 15 * time.Second
)

// New makes the application. It fails when a page or the words can't be loaded.
func New(config Config) (*Server, error) {
	assets, err := views.NewAssets()
	if err != nil {
		return nil, err
	}
	engine := config.pages
	if engine == nil {
		if engine, err = views.NewEngine(assets); err != nil {
			return nil, err
		}
	}
	words := config.words
	if words == nil {
		if words, err = views.LoadCatalogue(); err != nil {
			return nil, err
		}
	}
	s := &Server{store: config.Store, now: config.Now, log: config.Log, code: config.SetUpCode, mailTrust: config.MailTrust, witnesses: newWitnessClient(), words: words, dates: sync.OnceValue(func() map[string]search.Names { return dateNames(words) }), assets: assets, packers: newPackers(), makers: map[checklists.BackupID]*backup.Maker{},
		turns: newTurns(), hashing: config.hashing, decoding: make(chan struct{}, 1), exporting: make(chan struct{}, 1)}
	if s.hashing == nil {
		s.hashing = placesOfPINs()
	}
	s.ways.keeper, s.ways.public, s.ways.proxies = config.Secure, config.Public, config.Proxies
	s.stopping, s.stop = context.WithCancel(context.Background())
	s.under, s.drop = context.WithCancel(context.Background())
	s.app = fiber.New(fiber.Config{
		AppName:               "Stillsaw",
		DisableStartupMessage: true,
		Immutable:             true, // kept values must not point into the request's buffer
		Views:                 engine,
		ErrorHandler:          s.failUnread,
		BodyLimit:             bodyMost,
		ReadTimeout:           readTimeout,
		IdleTimeout:           idleTimeout,

		EnableTrustedProxyCheck: true, // X-Forwarded-Proto and -Host of anybody else are nothing
		TrustedProxies:          s.ways.named(),
	})
	listens(s.app)
	s.lookout = newLookout(s.log, s.now)
	s.crowd = newCrowd(s.ways.mayForward)
	s.crowd.tell = func(what, from string) { s.lookout.saw(sight{what: what, address: from}) }
	s.streams = newStreams(s.store, s.stopping, func(address string) { s.lookout.saw(sight{what: listenersLine, address: address}) })
	s.meter = meter.New(func() (store.Figures, error) { return s.store.Figures(s.stopping) }, func() float64 { return float64(s.streams.open()) })
	s.app.Use(s.measured)
	s.app.Use(s.pack)
	s.app.Use(recover.New(recover.Config{EnableStackTrace: true, StackTraceHandler: s.panicked}))
	s.app.Use(s.bounded, s.guardHeaders, s.refuseTwoReadings, s.keepToTheName, s.refusePacked, s.refuseForgery)
	s.app.Get("/assets/:name", s.asset)
	s.app.Get("/favicon.ico", s.icon)
	s.app.Get("/events", s.events)
	s.app.Get("/healthz", s.healthy)
	s.app.Get("/readyz", s.ready)
	s.screens()
	if err := s.apiRoutes(); err != nil {
		return nil, err
	}
	s.app.Use(func(c *fiber.Ctx) error { return store.ErrNotFound })
	return s, nil
}

// listens has an application take requests from a network as ours do.
func listens(app *fiber.App) {
	app.Server().HeaderReceived, app.Server().FormValueFunc = limits, formValue
	app.Server().KeepHijackedConns = true // see hijack
}

// placesOfPINs has one for each core: a PIN takes 19 MiB while it is checked, and more
// of them at once are no sooner done.
func placesOfPINs() chan struct{} { return make(chan struct{}, runtime.NumCPU()) }

// screens registers every screen's routes, literals before parameters.
func (s *Server) screens() {
	s.setUpRoutes()
	s.trustRoutes()
	s.signInRoutes()
	s.settingsRoutes()
	s.frontRoutes()
	s.checkpointRoutes()
	s.recordRoutes()
	s.exportRoutes()
	s.complianceRoutes()
	s.verifyRoutes()
	s.publishedRoutes()
	s.listRoutes()
	s.roleRoutes()
	s.peopleRoutes()
	s.equipmentRoutes()
	s.millRoutes()
	s.photoRoutes()
	s.chartRoutes()
	s.liftRoutes()
	s.rigRoutes()
	s.gearRoutes()
	s.lockoutRoutes()
	s.procedureRoutes()
	s.procedureInspectionRoutes()
	s.programRoutes()
	s.trainingRoutes()
	s.lockRegisterRoutes()
	s.contractorRoutes()
	s.registersRoutes()
	s.bladeRoutes()
	s.safetyRoutes()
	s.taskRoutes()
	s.inspectionRoutes()
	s.dueRoutes()
	s.defectRoutes()
	s.departureRoutes()
	s.incidentRoutes()
	s.trendRoutes()
	s.clockRoutes()
	s.tokenRoutes()
	s.retentionRoutes()
	s.emergencyRoutes()
	s.exportVerifyRoutes()
	s.reminderRoutes()
	s.mailRoutes()
	s.witnessRoutes()
	s.backupRoutes()
	s.calendarRoutes()
	s.phoneRoutes()
	s.installRoutes()
}

// Serve answers plain requests on listener until Stop.
func (s *Server) Serve(listener net.Listener) error {
	bound(&s.ways.plain, listener)
	return s.serve(listener)
}

// ServeSecure answers encrypted ones with the certificates of Config.Secure,
// beside Serve.
func (s *Server) ServeSecure(listener net.Listener) error {
	bound(&s.ways.secure, listener)
	return s.serve(secure.Listen(listener, s.ways.keeper.TLS()))
}

func (s *Server) serve(listener net.Listener) error {
	s.gate.Lock()
	s.begin()
	s.gate.Unlock()
	return s.doors.serve(s.stopping, s.app, s.crowd, listener)
}

// begin has the rounds begin that go on beside requests. The gate is held.
func (s *Server) begin() {
	if s.stopping.Err() != nil || s.begun {
		return
	}
	s.begun = true
	s.loops.Go(s.mailUntilStopped)
	s.loops.Go(s.dropUntilStopped)
	s.loops.Go(s.fillSearch)
	s.loops.Go(s.checkpointsUntilStopped)
	s.loops.Go(s.witnessUntilStopped)
	s.loops.Go(s.backUpUntilStopped)
}

// Stop takes no more requests, ends open streams, closes connections on which
// nothing was asked and waits for requests under way, at most a while.
func (s *Server) Stop() error {
	defer s.drop()
	s.stop()
	err := s.app.ShutdownWithTimeout(stopLasts)
	s.streams.end()
	s.gate.Lock()
	defer s.gate.Unlock()
	s.loops.Wait()
	s.lookout.end()
	err = errors.Join(err, s.doors.close())
	if errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("some requests did not end within %s", stopLasts)
	}
	return err
}

// bounded gives each request a context that ends after a while, or when a server
// that stops can wait for it no longer; fiber's own ends only with the process.
func (s *Server) bounded(c *fiber.Ctx) error {
	ctx, cancel := context.WithTimeout(s.under, requestLasts)
	defer cancel()
	c.SetUserContext(ctx)
	return c.Next()
}

func (s *Server) panicked(c *fiber.Ctx, e any) {
	stack := make([]byte, 16<<10)
	stack = stack[:runtime.Stack(stack, false)]
	s.log.Error("handler panicked", "route", c.Route().Path, "panic", fmt.Sprint(e), "stack", string(stack))
}

// asset serves the stylesheet and scripts at names made of their content, so a
// browser may keep them for good.
func (s *Server) asset(c *fiber.Ctx) error {
	body, contentType, ok := s.assets.Lookup(c.Path())
	if !ok {
		return store.ErrNotFound
	}
	c.Set(fiber.HeaderContentType, contentType)
	c.Set(fiber.HeaderCacheControl, "public, max-age=31536000, immutable")
	c.Vary(fiber.HeaderAcceptEncoding)
	if packed, encoding := s.assets.Compressed(c.Path(), c.Get(fiber.HeaderAcceptEncoding)); encoding != "" {
		c.Set(fiber.HeaderContentEncoding, encoding)
		body = packed
	}
	return c.Send(body)
}

// icon is what a browser asks for where a page names none, as one that is kept does.
func (s *Server) icon(c *fiber.Ctx) error {
	at, err := s.assets.URL("icon.svg")
	if err != nil {
		return err
	}
	return c.Redirect(at)
}
