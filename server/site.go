package main

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/csvfile"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/intake/mail"
	"dunlin/cases/store"
	"dunlin/reminders"
	"dunlin/reminders/mailbox"
	"dunlin/server/auth"
	"dunlin/server/safekeeping"
	"dunlin/templates"
)

// site is an open store with what the commands and pages need around it.
type site struct {
	cfg    *config
	db     *store.DB
	desk   *cases.Desk
	intake *intake.Intake
	book   *reminders.Book
	box    *mailbox.Box                         // of a serving program, when a mailbox is set up
	keeper *safekeeping.Keeper                  // makes back-ups; nil when no folder is set
	guard  *auth.Guard                          // of a serving program
	now    func() time.Time                     // time.Now when nil
	texts  func() (*templates.LetterSet, error) // read once, so that a change of the folder needs a new start
}

// openSite opens the store of the settings, after a look at it in a process of its own,
// waiting for another process to let go of it. Reading commands must not make a new file (mustExist).
func openSite(cfg *config, mustExist bool, wait time.Duration, log *slog.Logger) (*site, error) {
	sound, err := cfg.lookFirst(context.Background(), log)
	if err != nil {
		return nil, err
	}
	db, err := store.Open(cfg.Store, store.Options{
		Now: time.Now, Zone: cfg.zone, Protocol: cfg.protocol, Program: cfg.Code, Release: release,
		MustExist: mustExist, Wait: wait, Log: log, Checked: sound,
	})
	if err != nil {
		return nil, cfg.wayBack(err)
	}
	s := newSite(cfg, db)
	if err := s.keepBackups(); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return s, nil
}

// keepBackups makes the keeper of the settings.
func (s *site) keepBackups() (err error) {
	if s.cfg.Backup.Folder != "" {
		s.keeper, err = s.newKeeper(s.cfg.Backup)
	}
	return err
}

func newSite(cfg *config, db *store.DB) *site {
	rules := func() *cases.Protocol { return cfg.protocol }
	return &site{
		cfg: cfg, db: db, desk: cases.NewDesk(db, cfg.protocol),
		intake: intake.New(db, rules, cfg.settings(), hl7.Format{}, csvfile.Format{}).OpenMail(mail.Reader{}),
		book:   &reminders.Book{Store: db, Protocol: rules},
		texts:  sync.OnceValues(cfg.letterTexts),
	}
}

func (s *site) close() error { return s.db.Close() }
