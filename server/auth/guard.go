package auth

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"net/http"
	"sync"
	"time"

	"dunlin/cases"

	"github.com/alexedwards/scs/v2"
)

// Options of a Guard; zero values give the defaults of the package comment.
type Options struct {
	Now      func() time.Time
	Idle     time.Duration
	Absolute time.Duration
	Secure   bool         // served over TLS: __Host- cookie with the Secure mark
	Sessions SessionStore // nil keeps them in memory, so that a restart signs everybody out
	Program  string       // name of the program, for the list of an app that shows codes
}

// Guard signs people in and out and knows who makes a request.
type Guard struct {
	store    Accounts
	now      func() time.Time
	sessions *scs.SessionManager
	kept     *keeper
	throttle *throttle
	secure   bool
	program  string
	dummy    string // hash that unknown names are compared with, to take as long

	mu    sync.Mutex
	first first
	brief map[string]map[string]string // by the session's token: what need not outlive a restart
}

// New makes a Guard over the accounts of a store.
func New(store Accounts, o Options) (*Guard, error) {
	g := &Guard{store: store, now: o.Now, sessions: scs.New(), throttle: newThrottle(), secure: o.Secure, program: o.Program, brief: map[string]map[string]string{}}
	if g.now == nil {
		g.now = time.Now
	}
	s := g.sessions
	s.Lifetime, s.IdleTimeout = 10*time.Hour, 15*time.Minute
	if o.Absolute > 0 {
		s.Lifetime = o.Absolute
	}
	if o.Idle > 0 {
		s.IdleTimeout = o.Idle
	}
	if o.Sessions == nil {
		o.Sessions = &memory{now: time.Now, list: map[string]kept{}}
	}
	g.kept = &keeper{SessionStore: o.Sessions, ended: map[string]time.Time{}}
	s.Store = g.kept
	s.HashTokenInStore, s.Codec = true, codec{}
	s.Cookie.Name, s.Cookie.Secure = "dunlin", false
	if o.Secure {
		s.Cookie.Name, s.Cookie.Secure = "__Host-dunlin", true
	}
	s.Cookie.HttpOnly, s.Cookie.SameSite, s.Cookie.Path, s.Cookie.Persist = true, http.SameSiteLaxMode, "/", false
	var err error
	g.dummy, err = Hash(rand.Text())
	return g, err
}

// Wrap loads the session before next and keeps it afterwards. It goes around
// every page that knows its user.
func (g *Guard) Wrap(next http.Handler) http.Handler {
	return g.sessions.LoadAndSave(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), inSession{}, true)))
	}))
}

// inSession marks the context of a request that has a session; commands have none.
type inSession struct{}

// Idle is how long a session lasts without use.
func (g *Guard) Idle() time.Duration { return g.sessions.IdleTimeout }

// Keys of session values.
const (
	keyUser   = "user"
	keyMark   = "mark" // of the password the session was opened with
	keyToken  = "csrf"
	keyID     = "id"     // names the session in lists; opens nothing
	keySince  = "since"  // when it was opened, Unix seconds
	keyProved = "proved" // when the person last showed the password
	keyFrom   = "from"   // network address
	keyWith   = "with"   // browser
	keySecond = "second" // "yes" when a second factor was shown
	keyHalf   = "half"   // who has shown the password and not yet the second factor
	keyHalfAt = "half-at"
)

// User is the account that makes the request. It is read anew each time, so
// that a disabled account or a changed role counts at the next request.
func (g *Guard) User(ctx context.Context) (cases.Account, bool) {
	id := g.sessions.GetString(ctx, keyUser)
	if id == "" {
		return cases.Account{}, false
	}
	var acc cases.Account
	err := g.store.View(ctx, func(r cases.Reader) error {
		var err error
		acc, err = r.Account(id)
		return err
	})
	if err != nil || acc.Disabled || mark(acc.Hash) != g.sessions.GetString(ctx, keyMark) || g.kept.over(g.sessions.GetString(ctx, keyID)) {
		return cases.Account{}, false
	}
	return acc, true
}

// SignedOut tells whether the session named a user who is no longer let in.
func (g *Guard) SignedOut(ctx context.Context) bool { return g.sessions.GetString(ctx, keyUser) != "" }

// Token is the session's random token that each form carries.
func (g *Guard) Token(ctx context.Context) string {
	t := g.sessions.GetString(ctx, keyToken)
	if t == "" {
		t = NewToken()
		g.sessions.Put(ctx, keyToken, t)
	}
	return t
}

// ValidToken compares a form's token with the session's in constant time.
func (g *Guard) ValidToken(ctx context.Context, token string) bool {
	want := g.sessions.GetString(ctx, keyToken)
	return want != "" && subtle.ConstantTimeCompare([]byte(want), []byte(token)) == 1
}

// NewToken is 144 random bits as text.
func NewToken() string {
	var b [18]byte
	rand.Read(b[:])
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// Get and Set keep a setting of the session, such as the height of rows.
func (g *Guard) Get(ctx context.Context, key string) string {
	return g.sessions.GetString(ctx, "my."+key)
}

// Set keeps a setting of the session.
func (g *Guard) Set(ctx context.Context, key, value string) { g.sessions.Put(ctx, "my."+key, value) }

// mark is a short digest of a hash: a session opened before a change of
// password no longer fits.
func mark(hash string) string {
	sum := sha256.Sum256([]byte(hash))
	return hex.EncodeToString(sum[:8])
}

// SignOut ends the session.
func (g *Guard) SignOut(ctx context.Context) error {
	g.mu.Lock()
	delete(g.brief, g.sessions.GetString(ctx, keyToken))
	g.mu.Unlock()
	return g.sessions.Destroy(ctx)
}
