package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
	"dunlin/reminders/letters"
	"dunlin/server/auth"
	"dunlin/server/demo"
	"dunlin/server/safekeeping"
	"dunlin/templates"
)

func demoCommand() command {
	return command{name: "demo", args: "[flags]", short: "serve an invented program, with a sign-in for each role",
		long: `Serves the invented Alder Bay program on a loopback port: about 120 infants of the
last year, made anew each time by passing HL7 messages through intake and recording
facts. All data are invented. Stop it with Ctrl+C; nothing is kept.`,
		run: runDemo}
}

// demoIDs are the sign-ins of the demo.
var demoIDs = []struct {
	id, name string
	role     cases.Role
	says     string
}{
	{"coordinator@alderbay.example", "Wren Castellano", cases.Coordinator, "Coordinator"},
	{"nurse@alderbay.example", "Dagny Achterberg", cases.Nurse, "Nurse"},
	{"manager@alderbay.example", "Ines Okafor-Lund", cases.Manager, "Program manager"},
	{"administrator@alderbay.example", "Bram Ostrander", cases.Administrator, "Administrator"},
}

const demoPassword = "alder-bay-invented-demo"

func runDemo(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	listen := fs.String("listen", "", "loopback `address` (default 127.0.0.1:8480, or a free port when taken)")
	on := fs.String("on", "", "today's `date` in the demo, for screenshots and tests (default today)")
	if code, done := parse(std, fs, args); done {
		return code
	}
	if fs.NArg() > 0 {
		return wrongUse(std, fs, "it takes no arguments")
	}
	address, err := loopback(*listen)
	if err != nil {
		return wrongUse(std, fs, "%v", err)
	}
	dir, err := os.MkdirTemp("", "dunlin-demo-")
	if err != nil {
		return fail(std, "demo", err)
	}
	defer os.RemoveAll(dir)
	cfg, err := demoConfig(filepath.Join(dir, "demo.db"))
	if err != nil {
		return fail(std, "demo", err)
	}
	d, err := openDemo(ctx, cfg, *on)
	if err != nil {
		return fail(std, "demo", err)
	}
	began := time.Now()
	tally, err := d.fill(ctx)
	if err == nil {
		err = d.keepSafe(ctx, dir)
	}
	if err != nil {
		d.site.close()
		return fail(std, "demo", err)
	}
	log := slog.New(slog.NewTextHandler(std.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	err = serve(ctx, d.site, serving{log: log, now: d.now, madeUp: true, ids: d.ids(), listen: address, ready: func(url string) {
		fmt.Fprintf(std.out, "\nDunlin demo: the invented Alder Bay program, %d infants, made in %.1f s.\n", tally.Infants, time.Since(began).Seconds())
		fmt.Fprintf(std.out, "All people, places and results are invented.\n\n  Open %s\n\n", url)
		for _, x := range demoIDs {
			fmt.Fprintf(std.out, "  %-16s %-30s %s\n", x.says, x.id, demoPassword)
		}
		fmt.Fprintf(std.out, "\nNothing is sent. Messages by e-mail and text become files in %s\n", cfg.Outgoing.Folder)
		fmt.Fprint(std.out, "\nStop with Ctrl+C; nothing is kept.\n")
	}})
	if cerr := d.site.close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fail(std, "demo", err)
	}
	return exitOK
}

// loopback checks the address of the demo, which has well-known passwords and must
// not be reached from elsewhere.
func loopback(address string) (string, error) {
	if address == "" {
		const usual = "127.0.0.1:8480"
		ln, err := net.Listen("tcp", usual)
		if err != nil {
			return "127.0.0.1:0", nil
		}
		return usual, ln.Close()
	}
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return "", fmt.Errorf("--listen: %w", err)
	}
	if !isLoopback(host) {
		return "", fmt.Errorf("--listen: the demo serves loopback addresses only, not %s", host)
	}
	return address, nil
}

// demoConfig sets up the invented program.
func demoConfig(path string) (*config, error) {
	c := defaultConfig()
	c.Store = path
	c.Help = "555-0142, 08:00 to 16:00"
	// Nothing is sent: messages become files beside the store, from six in the morning,
	// when the demo's past days run their jobs.
	c.Outgoing.Folder, c.Outgoing.Doctor, c.Outgoing.From = filepath.Join(filepath.Dir(path), "outgoing"), true, "06:00"
	c.Outgoing.Mail.From, c.Outgoing.Mail.FromName = "followup@alderbay.example", "Wren Castellano"
	c.Letters = letters.Program{
		Name: "Alder Bay Newborn Screening Follow-up", Return: []string{"Alder Bay Follow-up", "PO Box 112", "Alder Bay"},
		Contact: "Wren Castellano", Phone: "555-0142", Hours: "Monday to Friday, from 8 in the morning to 4 in the afternoon",
		Emergency: "911", SurnameInWindow: true, Envelope: letters.No10(),
		HoursIn: map[string]string{"es": "de lunes a viernes, de las 8 de la mañana a las 4 de la tarde"},
		Fax:     "555-0143", CFCenter: "Alder Bay CF Clinic", CFCenterPhone: "555-0150", Counseling: "Maren Holt, 555-0144",
		Sites: map[string]letters.Site{
			"alder-bay":    {Name: "Alder Bay CF Clinic", Address: "2 Curlew Street, Alder Bay", Phone: "555-0150"},
			"heron-point":  {Name: "Heron Point Children's", Address: "40 Ferry Road, Heron Point", Phone: "555-0160"},
			"marlow-creek": {Name: "Marlow Creek Laboratory", Address: "7 Mill Lane, Marlow Creek", Phone: "555-0170"},
		},
	}
	return &c, c.settle()
}

// demoSite is the demo's site with its clock.
type demoSite struct {
	site  *site
	clock *demo.Clock
	today cases.Day
}

func openDemo(ctx context.Context, cfg *config, on string) (*demoSite, error) {
	d := &demoSite{clock: &demo.Clock{}}
	now := time.Now().In(cfg.zone)
	d.today = cases.DayOf(now)
	if on != "" {
		day, err := cases.ParseDay(on)
		if err != nil {
			return nil, fmt.Errorf("--on %w", err)
		}
		y, m, dd := day.Date()
		then := time.Date(y, time.Month(m), dd, 8, 40, 0, 0, cfg.zone)
		d.today = day
		d.clock.Shift(then.Sub(now))
	}
	db, err := store.Open(cfg.Store, store.Options{Now: d.now, Zone: cfg.zone, Protocol: cfg.protocol, Program: cfg.Code, Release: release, Scratch: true})
	if err != nil {
		return nil, err
	}
	d.site = newSite(cfg, db)
	for _, x := range demoIDs {
		by := cases.Actor{ID: "demo", Name: "Demo", Role: cases.System, Via: "demo"}
		if _, err := auth.Create(ctx, db, by, auth.Person{ID: x.id, Name: x.name, Role: x.role}, demoPassword); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// now is the demo's time: set while the past is recorded, then real time, shifted
// where another day was chosen.
func (d *demoSite) now() time.Time { return d.clock.Now() }

// fill records the scenario and runs this morning's job.
func (d *demoSite) fill(ctx context.Context) (demo.Tally, error) {
	s := d.site
	press, err := s.press(nil)
	if err != nil {
		return demo.Tally{}, err
	}
	daily := letters.Daily(s.book, press)
	out, err := s.outbox(d.now, slog.New(slog.DiscardHandler))
	if err != nil {
		return demo.Tally{}, err
	}
	run := func(ctx context.Context, day cases.Day) error {
		if _, err := daily(ctx, slotOf(day, s.cfg.zone)); err != nil {
			return err
		}
		_, err := out.Run(ctx)
		return err
	}
	tally, err := demo.Fill(ctx, demo.Deps{Store: s.db, Desk: s.desk, Intake: s.intake, Clock: d.clock, Zone: s.cfg.zone, Daily: run}, d.today)
	if err != nil {
		return tally, err
	}
	return tally, run(ctx, d.today)
}

// keepSafe sets up encrypted back-ups in the demo's folder, and makes the first.
func (d *demoSite) keepSafe(ctx context.Context, dir string) error {
	b := &d.site.cfg.Backup
	b.Folder, b.Recipients = filepath.Join(dir, "back-ups"), filepath.Join(dir, "keys.txt")
	public, err := safekeeping.NewKey(filepath.Join(dir, "private-key.txt"))
	if err != nil {
		return err
	}
	err = errors.Join(os.Mkdir(b.Folder, 0o700), os.WriteFile(b.Recipients, []byte(public+"\n"), 0o600))
	if err != nil {
		return err
	}
	d.site.now = d.now
	if err := d.site.keepBackups(); err != nil {
		return err
	}
	_, _, err = d.site.makeBackup(ctx, d.site.keeper, "schedule")
	return err
}

func slotOf(day cases.Day, zone *time.Location) time.Time {
	y, m, dd := day.Date()
	return time.Date(y, time.Month(m), dd, 6, 0, 0, 0, zone)
}

func (d *demoSite) ids() []templates.DemoID {
	var out []templates.DemoID
	for _, x := range demoIDs {
		out = append(out, templates.DemoID{Role: x.says, Email: x.id, Password: demoPassword})
	}
	return out
}
