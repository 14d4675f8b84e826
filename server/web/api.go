package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"

	"github.com/labstack/echo/v4"
)

// Keys tells whose key a request carries; *auth.Keys does.
type Keys interface {
	Name(ctx context.Context, key string) (name string, ok bool, err error)
}

// Documents takes in a document for the web service; *intake.Queue does.
type Documents interface {
	Receive(ctx context.Context, a cases.Actor, d intake.Document) (intake.Result, error)
}

// The web service: one address, one method. It has no session and reads no cookie.
const (
	apiPath  = "/intake/documents"
	apiLimit = 5 << 20 // bytes of a document
)

func isAPI(c Ctx) bool { return c.Path() == apiPath && c.Request().Method == http.MethodPost }

// apiItem is one item of a document in an answer. Reasons say what is wrong with
// what was sent, and nothing of what is on file.
type apiItem struct {
	Position  string   `json:"position"`
	Outcome   string   `json:"outcome"`
	Reference string   `json:"reference,omitempty"`
	Reasons   []string `json:"reasons,omitempty"`
}

// apiAnswer says what became of a document.
type apiAnswer struct {
	Hash     string         `json:"hash"` // hex SHA-256 of the bytes
	Format   string         `json:"format,omitempty"`
	Again    bool           `json:"again,omitempty"` // the same bytes came before; the rest says what became of them
	Counts   map[string]int `json:"counts"`          // by outcome; they add up to the items
	Items    []apiItem      `json:"items"`
	Warnings []string       `json:"warnings,omitempty"` // about the document as a whole
}

// apiProblem is a problem in the form of RFC 9457, without personal facts.
type apiProblem struct {
	Type    string `json:"type"`
	Title   string `json:"title"`
	Status  int    `json:"status"`
	Detail  string `json:"detail"`
	Request string `json:"request"`
}

// receiveDocument answers POST /intake/documents: 200 when all is decided, 202 when
// something waits for a person. Both are given only when the document is stored.
func (s *server) receiveDocument(c Ctx) error {
	r := c.Request()
	ip := c.RealIP()
	if !s.Secure && !net.ParseIP(ip).IsLoopback() {
		return s.problem(c, http.StatusForbidden, "TLS is needed", "Documents are taken over TLS only. Nothing was stored.")
	}
	name, err := s.keyOf(c)
	switch {
	case errors.Is(err, errNoKey):
		return s.refuseKey(c, ip)
	case err != nil:
		return s.notStored(c, err)
	}
	if enc := r.Header.Get(echo.HeaderContentEncoding); enc != "" && !strings.EqualFold(enc, "identity") {
		return s.problem(c, http.StatusUnsupportedMediaType, "Compressed document", "Send the bytes of the document as they are. Nothing was stored.")
	}
	raw, err := io.ReadAll(http.MaxBytesReader(c.Response(), r.Body, apiLimit))
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return s.problem(c, http.StatusRequestEntityTooLarge, "The document is too large", fmt.Sprintf("A document may have %d MB. Nothing was stored; send it in parts.", apiLimit>>20))
	case err != nil:
		return s.problem(c, http.StatusBadRequest, "The document did not come whole", "The connection broke off. Nothing was stored; send it again.")
	}
	res, err := s.Documents.Receive(r.Context(), cases.Actor{ID: "key:" + name, Name: name, Role: cases.System, Via: "web service"},
		intake.Document{Source: "web service", Sender: name, Name: documentName(r), At: s.Now(), Raw: raw})
	if err != nil {
		return s.notStored(c, err)
	}
	a, status, err := s.answerFor(c, &res)
	if err != nil { // it is stored, but what became of it before cannot be told
		return s.notStored(c, err)
	}
	line := cases.Access{By: "key:" + name, Role: cases.System, Act: cases.ActCreate, Route: r.Method + " " + c.Path(), Status: status, From: ip, Request: requestOf(c)}
	for i := range a.Items {
		if a.Items[i].Reference != "" {
			line.Infants = append(line.Infants, a.Items[i].Reference)
		}
	}
	if err := s.lines.log(r.Context(), line); err != nil {
		return s.notStored(c, err)
	}
	s.Log.Info("document", "key", name, "request", requestOf(c), "bytes", len(raw), "again", res.Again, "counts", a.Counts)
	return c.JSON(status, a)
}

// errNoKey is a request without a key that is known.
var errNoKey = errors.New("web: no key")

// keyOf gives the name of the key that a request carries.
func (s *server) keyOf(c Ctx) (string, error) {
	scheme, key, _ := strings.Cut(c.Request().Header.Get(echo.HeaderAuthorization), " ")
	key = strings.TrimSpace(key)
	if !strings.EqualFold(scheme, "Bearer") || key == "" || len(key) > 200 {
		return "", errNoKey
	}
	name, ok, err := s.Keys.Name(c.Request().Context(), key)
	if err == nil && !ok {
		err = errNoKey
	}
	return name, err
}

// refuseKey answers a request without a valid key, and slows down who keeps trying.
// A valid key is never kept out by another's failures from the same address.
func (s *server) refuseKey(c Ctx, ip string) error {
	s.Log.Warn("key refused", "from", ip, "request", requestOf(c))
	if s.tries.many(ip, s.Now()) {
		c.Response().Header().Set("Retry-After", "60")
		return s.problem(c, http.StatusTooManyRequests, "Too many tries", "Wait a minute. Nothing was stored.")
	}
	c.Response().Header().Set(echo.HeaderWWWAuthenticate, "Bearer")
	return s.problem(c, http.StatusUnauthorized, "No valid key", "Send the header Authorization: Bearer with a key that the program gave out. Nothing was stored.")
}

func (s *server) notStored(c Ctx, err error) error {
	s.Log.Error("a document was not stored", "request", requestOf(c), "err", err)
	c.Response().Header().Set("Retry-After", "60")
	return s.problem(c, http.StatusServiceUnavailable, "Not stored", "The document could not be stored now. Keep it and send it again; sending it twice does no harm.")
}

// problem answers with a problem in JSON.
func (s *server) problem(c Ctx, status int, title, detail string) error {
	body, err := json.Marshal(apiProblem{"about:blank", title, status, detail, requestOf(c)})
	if err != nil {
		return err
	}
	return c.Blob(status, "application/problem+json", body)
}

// apiError turns an error of the router or a panic into a problem in JSON.
func (s *server) apiError(c Ctx, err error) {
	status := http.StatusServiceUnavailable
	var he *echo.HTTPError
	if errors.As(err, &he) && he.Code < 500 {
		status = he.Code
	}
	if status >= 500 {
		err = s.notStored(c, err)
	} else {
		err = s.problem(c, status, http.StatusText(status), "Nothing was stored.")
	}
	if err != nil {
		s.Log.Error("problem", "request", requestOf(c), "err", err)
	}
}

// documentName is the name that the sender gave a document, for display only.
func documentName(r *http.Request) string {
	name := r.Header.Get("X-Document-Name")
	if name == "" {
		if _, params, err := mime.ParseMediaType(r.Header.Get(echo.HeaderContentDisposition)); err == nil {
			name = params["filename"]
		}
	}
	if name = fileName(strings.ToValidUTF8(name, "?")); name == "." || name == "/" || name == "" {
		return "document"
	}
	return name
}
