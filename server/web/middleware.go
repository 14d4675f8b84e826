package web

import (
	"crypto/rand"
	"errors"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"dunlin/cases"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"
)

// Sizes of request bodies, and the time a request may take.
const (
	formLimit   = "64K"
	uploadLimit = "8M"
	uploadPath  = "/intake/upload"
	tablePath   = "/settings/sites/import"
	timeLimit   = 10 * time.Second
)

// policy allows nothing that does not come from this server, and no inline
// script or style.
const policy = "default-src 'none'; style-src 'self'; img-src 'self'; script-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'"

// savedPolicy goes with files to save: should a browser show one, it may do nothing.
const savedPolicy = "default-src 'none'; sandbox; frame-ancestors 'none'"

// middleware goes around every request, outermost first.
func (s *server) middleware(e *echo.Echo) {
	e.Pre(func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c Ctx) error {
			c.Request().Header.Del(echo.HeaderXRequestID)
			return next(c)
		}
	})
	e.Use(middleware.RequestIDWithConfig(middleware.RequestIDConfig{Generator: requestID}))
	e.Use(middleware.RequestLoggerWithConfig(s.logged()))
	e.Use(middleware.RecoverWithConfig(middleware.RecoverConfig{
		DisableErrorHandler: true, DisableStackAll: true,
		LogErrorFunc: func(c Ctx, err error, stack []byte) error {
			s.Log.Error("panic", "request", requestOf(c), "err", err, "stack", string(stack))
			return err
		},
	}))
	e.Use(s.headers)
	e.Use(middleware.BodyLimitWithConfig(middleware.BodyLimitConfig{Limit: formLimit, Skipper: func(c Ctx) bool { return isUpload(c) || isAPI(c) }}))
	e.Use(middleware.BodyLimitWithConfig(middleware.BodyLimitConfig{Limit: uploadLimit, Skipper: func(c Ctx) bool { return !isUpload(c) }}))
	e.Use(middleware.ContextTimeoutWithConfig(middleware.ContextTimeoutConfig{Timeout: timeLimit}))
	e.Use(s.session)
}

func isUpload(c Ctx) bool { return takesFile(c.Request().URL.Path) }

// takesFile tells whether a form with a file may be sent to an address.
func takesFile(path string) bool { return path == uploadPath || path == tablePath }

// requestID is short enough to be read over the phone: D-7F3K-2290.
func requestID() string {
	t := rand.Text()
	return "D-" + t[:4] + "-" + t[4:8]
}

func requestOf(c Ctx) string { return c.Response().Header().Get(echo.HeaderXRequestID) }

// logged writes one line a request: never an address with its parameters,
// a name, or what was typed.
func (s *server) logged() middleware.RequestLoggerConfig {
	return middleware.RequestLoggerConfig{
		HandleError: true, LogStatus: true, LogLatency: true, LogRoutePath: true, LogMethod: true, LogRequestID: true, LogError: true,
		Skipper: func(c Ctx) bool { return strings.HasPrefix(c.Request().URL.Path, "/static/") },
		LogValuesFunc: func(c Ctx, v middleware.RequestLoggerValues) error {
			level, args := slog.LevelInfo, []any{"method", v.Method, "route", v.RoutePath, "status", v.Status, "ms", v.Latency.Milliseconds(), "request", v.RequestID}
			if acc, ok := c.Get(userKey).(cases.Account); ok {
				args = append(args, "role", acc.Role)
			}
			if v.Status >= 500 {
				level, args = slog.LevelError, append(args, "err", v.Error)
			}
			s.Log.Log(c.Request().Context(), level, "request", args...)
			if s.Observe != nil {
				s.Observe(v.Method, v.RoutePath, v.Status, v.Latency)
			}
			return nil
		},
	}
}

func (s *server) headers(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c Ctx) error {
		h := c.Response().Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		if s.Secure {
			h.Set("Strict-Transport-Security", "max-age=63072000")
		}
		c.Response().Before(func() { // what is saved as a file is never a page of this site
			if strings.HasPrefix(h.Get(echo.HeaderContentDisposition), "attachment") {
				h.Set("Content-Security-Policy", savedPolicy)
			}
		})
		return next(c)
	}
}

// session loads the session and its user before the handler and keeps the
// session afterwards. Files, the health page and the web service have none.
func (s *server) session(next echo.HandlerFunc) echo.HandlerFunc {
	inside := echo.WrapMiddleware(s.Auth.Wrap)(func(c Ctx) error {
		c.Set(sessionKey, true)
		if acc, ok := s.Auth.User(c.Request().Context()); ok {
			c.Set(userKey, acc)
		}
		return s.watched(c, func() error {
			err := next(c)
			if err != nil { // here the request's time and session still hold, so the page can be made
				s.showError(err, c)
			}
			return err
		})
	})
	return func(c Ctx) error {
		if p := c.Request().URL.Path; strings.HasPrefix(p, "/static/") || p == "/health" || p == "/favicon.ico" || isAPI(c) {
			return next(c)
		}
		return inside(c)
	}
}

// Keys of values that belong to one request.
const (
	userKey    = "user"
	sessionKey = "session"
)

// errToken is a form without this session's token, or one that another site sent.
var errToken = errors.New("web: form without this session's token")

// token lets a request that changes something through only if it comes from
// this site and carries the session's token. The body is read here, once.
func (s *server) token(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c Ctx) error {
		r := c.Request()
		if r.Method == http.MethodGet || r.Method == http.MethodHead {
			return next(c)
		}
		if c.Get(sessionKey) == nil { // an address that has no session has no form either
			return echo.ErrMethodNotAllowed
		}
		if err := s.cross.Check(r); err != nil {
			return errors.Join(errToken, err)
		}
		if err := readBody(r); err != nil {
			return err
		}
		if !s.Auth.ValidToken(r.Context(), r.PostForm.Get("csrf")) {
			if userOf(c).ID == "" && !isOpen(r.URL.Path) {
				return errSignedOut
			}
			return errToken
		}
		return next(c)
	}
}

// isOpen tells whether a page is for people who are not signed in.
func isOpen(path string) bool {
	return path == "/sign-in" || strings.HasPrefix(path, "/sign-in/") || strings.HasPrefix(path, linkPath) || strings.HasPrefix(path, firstPath)
}

// readBody reads the form of a request by its content type; any other type is
// refused.
func readBody(r *http.Request) error {
	kind, _, _ := strings.Cut(r.Header.Get(echo.HeaderContentType), ";")
	var err error
	switch strings.TrimSpace(kind) {
	case echo.MIMEApplicationForm:
		err = r.ParseForm()
	case echo.MIMEMultipartForm:
		if !takesFile(r.URL.Path) {
			return echo.ErrUnsupportedMediaType
		}
		err = r.ParseMultipartForm(8 << 20)
	default:
		return echo.ErrUnsupportedMediaType
	}
	if err == nil {
		return nil
	}
	var he *echo.HTTPError
	if errors.As(err, &he) {
		return he
	}
	return echo.ErrBadRequest.WithInternal(err)
}

// signedIn lets only a signed-in person through; others are sent to sign in
// and come back to the page they asked for.
func (s *server) signedIn(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c Ctx) error {
		switch {
		case userOf(c).ID != "":
			s.readSites(c)
			return next(c)
		case c.Request().Method != http.MethodGet:
			return errSignedOut
		}
		return c.Redirect(http.StatusSeeOther, "/sign-in?next="+escapeQuery(c.Request().URL.RequestURI()))
	}
}

// errSignedOut is a form sent after the session ended.
var errSignedOut = errors.New("web: signed out")

// allowed lets only roles with one of the rights through.
func (s *server) allowed(r right, next echo.HandlerFunc) echo.HandlerFunc {
	return func(c Ctx) error {
		if r != anyone && rightsOf[userOf(c).Role]&r == 0 {
			return forbidden(r)
		}
		return next(c)
	}
}

func forbidden(r right) error {
	return cases.Errorf(cases.Forbidden, "Only a %s can do this. Ask one of them.", holders(r))
}

// userOf is the account that makes a signed-in request.
func userOf(c Ctx) cases.Account {
	acc, _ := c.Get(userKey).(cases.Account)
	return acc
}

// actorOf is the signed-in person as the audit trail names them.
func actorOf(c Ctx) cases.Actor {
	acc := userOf(c)
	return cases.Actor{ID: acc.ID, Name: acc.Name, Role: acc.Role, Via: "web"}
}

// can tells whether the signed-in person has a right.
func can(c Ctx, r right) bool { return rightsOf[userOf(c).Role]&r != 0 }
