package main

import (
	"fmt"
	"log/slog"
	"net"
)

// checkAdmin finds every fault of the settings about watching the program.
func (c *config) checkAdmin() (errs []error) {
	add := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	var level slog.Level
	if err := level.UnmarshalText([]byte(c.LogLevel)); err != nil {
		add("log_level %q must be debug, info, warn or error", c.LogLevel)
	}
	if c.AdminListen == "" {
		return errs
	}
	host, _, err := net.SplitHostPort(c.AdminListen)
	switch {
	case err != nil:
		add("admin_listen %q must be host:port, like 127.0.0.1:8481", c.AdminListen)
	case !isLoopback(host) && !c.AdminAnywhere:
		add("admin_listen %q can be reached from outside this machine, and asks nobody who they are: use an address like 127.0.0.1:8481, or set admin_anywhere to true where only the right machines reach it", c.AdminListen)
	case c.AdminListen == c.Listen:
		add("admin_listen and listen must be two addresses")
	}
	return errs
}

// logLevel is the least level that is logged; settle has looked at it.
func (c *config) logLevel() slog.Level {
	var level slog.Level
	if level.UnmarshalText([]byte(c.LogLevel)) != nil {
		return slog.LevelInfo
	}
	return level
}
