package web

import (
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/reminders"
	"dunlin/server/auth"
	"dunlin/templates"

	"github.com/labstack/echo/v4"
)

// Ctx is one request and its answer. It is declared once, so that a change of
// the router is a change of this line.
type Ctx = echo.Context

// Deps is what the pages need. All fields are required unless said otherwise.
type Deps struct {
	Pages    *templates.Set
	Store    cases.Store
	Protocol *cases.Protocol
	Auth     *auth.Guard
	Now      func() time.Time // in the program's zone
	Log      *slog.Logger     // nil logs nothing

	Program string // name of the follow-up program, in the footer
	Help    string // phone and hours of support; may be empty
	MadeUp  bool   // all data are invented: said on every page
	Secure  bool   // served over TLS
	// Proxies are the addresses of proxies in front of the server: only their word is
	// taken for the address of a client.
	Proxies []*net.IPNet
	Demo    []templates.DemoID
	// Observe counts each answer by its route, never by its address; nil counts nothing.
	Observe func(method, route string, status int, took time.Duration)

	Services // of the forms, in services.go
}

// server holds the dependencies; handlers are its methods.
type server struct {
	Deps
	Book  *reminders.Book
	Desk  *cases.Desk // over a store that keeps each form's token; see submit
	cross *http.CrossOriginProtection
	last  keptPage // the page of server trouble, rendered at start
	lines *accessLines
	tally tally
	tries tries

	unlogged  keptPage   // the page that is shown where the access log cannot be written
	exporting sync.Mutex // held while a file is made

	opens map[string]right // who may open each page, by its path
	alike keptAlike        // pairs of cases that may be about one infant

	places *booking.Desk                  // bookings of places of sessions, over the same store as Desk
	stored atomic.Pointer[[]booking.Site] // test sites in the store, read anew for each request
}

// New makes the handler of all pages. It fails when a page is missing.
func New(d Deps) (http.Handler, error) {
	lines := &accessLines{store: d.Store}
	d.Store = watchedStore{d.Store}
	if d.Press != nil {
		press := *d.Press
		press.Store, d.Press = d.Store, &press
	}
	if d.Intake != nil {
		d.Intake = d.Intake.Over(d.Store)
	}
	s := &server{Deps: d, cross: http.NewCrossOriginProtection(), lines: lines}
	s.Book = &reminders.Book{Store: d.Store, Protocol: s.protocol}
	s.Desk = cases.NewDesk(onceStore{d.Store, &s.tally}, d.Protocol)
	s.places = booking.NewDesk(onceStore{d.Store, &s.tally}, d.Protocol)
	s.places.Centroids = d.Centroids
	if d.Log == nil {
		s.Log = slog.New(slog.DiscardHandler)
	}
	if err := s.keep(); err != nil {
		return nil, fmt.Errorf("web: %w", err)
	}
	e := echo.New()
	e.HideBanner, e.HidePort, e.Debug = true, true, false
	e.HTTPErrorHandler = s.showError
	e.IPExtractor = clientAddress(d.Proxies)
	s.middleware(e)
	s.routes(e)
	return e, nil
}

// clientAddress finds the address of a client: that of the connection, and the one
// before it in X-Forwarded-For as long as a proxy of ours wrote it.
func clientAddress(proxies []*net.IPNet) echo.IPExtractor {
	if len(proxies) == 0 {
		return echo.ExtractIPDirect()
	}
	trust := []echo.TrustOption{echo.TrustLoopback(false), echo.TrustLinkLocal(false), echo.TrustPrivateNet(false)}
	for _, p := range proxies {
		trust = append(trust, echo.TrustIPRange(p))
	}
	return echo.ExtractIPFromXFFHeader(trust...)
}

// route is one line of the list of routes.
type route struct {
	method, path string
	right        right // "" = anyone signed in
	handle       echo.HandlerFunc
}

func get(path string, r right, h echo.HandlerFunc) route  { return route{http.MethodGet, path, r, h} }
func post(path string, r right, h echo.HandlerFunc) route { return route{http.MethodPost, path, r, h} }

// coreRoutes lists the pages of the overdue list and the infants; formRoutes,
// in formroutes.go, those of schedule, tests, closing, intake, letters, reports
// and settings.
func (s *server) coreRoutes() []route {
	return []route{
		get("/", anyone, s.home),
		get("/overdue", seeCases, s.overdue),
		get("/overdue/print", seeCases, s.overduePrint),
		get("/overdue/days/:day", seeCases, s.overdueDay),
		get("/infants", seeCases, s.infants),
		post("/infants/find", seeCases, s.askInfants),
		get("/infants/found", seeCases, s.foundInfants),
		get("/infants/:ref", seeCases|seeWaiting, s.infant),
		get("/infants/:ref/contacts/new", logContacts, s.contactForm),
		post("/infants/:ref/contacts", logContacts, s.logContact),
		get("/infants/:ref/weights/new", weigh, s.weightForm),
		post("/infants/:ref/weights", weigh, s.addWeight),
		get("/infants/:ref/name", writeIdentity, s.nameForm),
		post("/infants/:ref/name", writeIdentity, s.changeName),
		get("/stay", anyone, s.stay),
		get("/me", anyone, s.me),
		post("/me", anyone, s.saveMe),
	}
}

// routes registers every page.
func (s *server) routes(e *echo.Echo) {
	e.GET("/static/:name", s.static)
	e.GET("/health", s.health)
	e.GET("/favicon.ico", func(c Ctx) error {
		p, err := s.Pages.Static().Path("dunlin.svg")
		if err != nil {
			return err
		}
		return c.Redirect(http.StatusMovedPermanently, p)
	})

	if s.Keys != nil && s.Documents != nil {
		e.POST(apiPath, s.receiveDocument)
	}

	open := e.Group("", s.token)
	open.GET("/sign-in", s.signInForm)
	open.POST("/sign-in", s.signIn)
	open.POST("/sign-out", s.signOut)
	open.GET("/sign-in/code", s.codeForm)
	open.POST("/sign-in/code", s.signInCode)
	open.GET(servicePath, s.toService)
	open.GET(ServiceBackPath, s.fromService)
	open.GET("/sign-in/set-up", s.mustFactorForm)
	open.POST("/sign-in/set-up", s.mustFactor)
	open.GET(linkPath+":token", s.linkForm)
	open.POST(linkPath+":token", s.useLink)
	open.GET(firstPath+":token", s.firstForm)
	open.POST(firstPath+":token", s.makeFirst)

	in := e.Group("", s.token, s.signedIn)
	s.opens = map[string]right{}
	for _, r := range slices.Concat(s.coreRoutes(), s.formRoutes(), s.peopleRoutes()) {
		in.Add(r.method, r.path, s.allowed(r.right, r.handle)).Name = r.method + " " + r.path
		if r.method == http.MethodGet {
			s.opens[r.path] = r.right
		}
	}
}

// health says that the server answers. What the jobs that keep the store safe found is
// said in words, and the answer stays good: a server taken out of service for a back-up
// that rotted helps nobody.
func (s *server) health(c Ctx) error {
	if len(s.safeJobs(c)) > 0 {
		return c.String(http.StatusOK, "ok, but a back-up or the reading of everything failed: see Settings, Back-ups\n")
	}
	return c.String(http.StatusOK, "ok\n")
}

// static serves a file whose name changes with its content.
func (s *server) static(c Ctx) error {
	body, kind, ok := s.Pages.Static().File(c.Param("name"))
	if !ok {
		return echo.ErrNotFound
	}
	c.Response().Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	return c.Blob(http.StatusOK, kind, body)
}

// view runs f on a snapshot of the store.
func (s *server) view(c Ctx, f func(cases.Reader) error) error {
	return s.Store.View(c.Request().Context(), f)
}
