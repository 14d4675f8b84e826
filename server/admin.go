package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"syscall"
	"time"

	"dunlin/server/metrics"
)

// listen opens an address, or says in words why it cannot be.
func listen(what, setting, address string) (net.Listener, error) {
	ln, err := net.Listen("tcp", address)
	if err == nil {
		return ln, nil
	}
	advice := "give another address in " + setting
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		advice = "another program listens there: stop it, or " + advice
	case errors.Is(err, syscall.EACCES):
		advice = "this user may not listen there: take a port from 1024 up, or " + advice
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		advice = "this machine has no such address: " + advice
	}
	return nil, fmt.Errorf("%s cannot be served on %s; %s (%w)", what, address, advice, err)
}

// watched is the administrative address of a serving program; nil when it is off.
type watched struct {
	ln  net.Listener
	srv *http.Server
}

// listenForAdmin opens the administrative address of the settings.
func listenForAdmin(cfg *config, work *working, counts *metrics.Metrics, log *slog.Logger) (*watched, error) {
	if cfg.AdminListen == "" {
		return nil, nil
	}
	ln, err := listen("health and metrics", "admin_listen", cfg.AdminListen)
	if err != nil {
		return nil, err
	}
	return &watched{ln, &http.Server{
		Handler: adminPages(work, counts), ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 5 * time.Second, WriteTimeout: 15 * time.Second,
		IdleTimeout: 30 * time.Second, MaxHeaderBytes: 16 << 10, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}}, nil
}

func (a *watched) serve(log *slog.Logger) {
	if a == nil {
		return
	}
	log.Info("health and metrics are served", "address", a.ln.Addr().String())
	go func() {
		if err := a.srv.Serve(a.ln); !errors.Is(err, http.ErrServerClosed) {
			log.Error("health and metrics are not served any more", "err", err)
		}
	}()
}

func (a *watched) stop() {
	if a != nil {
		a.srv.Close()
		a.ln.Close()
	}
}

// adminPages answers /healthz and /metrics.
func adminPages(work *working, counts *metrics.Metrics) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, r *http.Request) {
		text, well := findingsText(work.health(r.Context()))
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		if !well {
			w.WriteHeader(http.StatusServiceUnavailable)
		}
		io.WriteString(w, text)
	})
	mux.Handle("GET /metrics", counts.Handler())
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
		w.Header().Set("Cache-Control", "no-store")
		mux.ServeHTTP(w, r)
	})
}

func healthCommand() command {
	return command{name: "health", args: "[flags]", short: "ask a serving program how it is",
		long: `Asks the administrative address (admin_listen) of the serving program how it is and
prints the answer. Exit 1 if something wants a look, or nobody answers: for monitors and
containers that have no other way to ask.`,
		run: func(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
			get := configFlags(fs, "admin-listen")
			if code, done := parse(std, fs, args); done {
				return code
			}
			cfg, err := get()
			if err == nil && cfg.AdminListen == "" {
				err = errors.New("admin_listen is not set, so nobody can be asked")
			}
			if err != nil {
				fmt.Fprintf(std.err, "dunlin health: %s\n", people(err))
				return exitUsage
			}
			return askHealth(ctx, std, cfg.AdminListen)
		}}
}

func askHealth(ctx context.Context, std stdio, address string) int {
	ctx, cancel := context.WithTimeout(ctx, 2*lookLimit)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+address+"/healthz", nil)
	if err != nil {
		return fail(std, "health", err)
	}
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true}} // no proxy: it is this machine
	resp, err := client.Do(req)
	if err != nil {
		return fail(std, "health", fmt.Errorf("nobody answers: %w", err))
	}
	defer resp.Body.Close()
	if _, err := io.Copy(std.out, io.LimitReader(resp.Body, 64<<10)); err != nil {
		return fail(std, "health", err)
	}
	if resp.StatusCode != http.StatusOK {
		return exitFailed
	}
	return exitOK
}
