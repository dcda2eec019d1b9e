// Package store keeps the journal and its projections in SQLite. Everything that happens goes in through one apply
// path; everything that is shown comes out of the projections, filtered by what the actor of the context may see. It
// keeps to database/sql and plain SQLite SQL, so that the same code runs on another SQLite driver inside a browser. It
// must not know of HTTP, pages or forms.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/sheet"

	"github.com/google/uuid"
)

// Config says where the database is and where time and ids come from.
type Config struct {
	Path  string           // the database file
	Now   func() time.Time // the clock
	NewID func() uuid.UUID // makes UUIDv7
	// Observe is told of every statement and how long it took, reading its rows included; nil: nobody asks.
	Observe func(query string, took time.Duration)
	Unclean bool // the process before this one did not stop in order: the file is due to be looked through
}

// Store is an open database.
type Store struct {
	db       *sql.DB   // the writer's pool: one connection, held in conn
	conn     *sql.Conn // SQLite has one writer; its prepared statements live as long as the store
	read     *sql.DB
	sessions *sql.DB
	now      func() time.Time
	newID    func() uuid.UUID
	observe  func(query string, took time.Duration)
	device   uuid.UUID // this server as a device of the journal
	unclean  bool

	writing    sync.Mutex           // held by the write transaction
	statements map[string]*sql.Stmt // of conn, by text; guarded by writing
	reads      sync.Map             // text → *sql.Stmt of the readers' pool
	readCount  atomic.Int64         // how many there are in reads
	sheets     sync.Map             // body of a sheet → *sheet.Sheet

	commits atomic.Int64 // how often anything was committed
	changes atomic.Int64 // how often something was committed that is not of one fryer's readings alone
	// What is asked for at every page: the first by commits, the others by changes.
	signIns memo[string, person.SignIn]
	actors  memo[uuid.UUID, access.Actor]
	sites   memo[uuid.UUID, uuid.UUID] // of fryers
	named   memo[struct{}, *names]
	laid    laid
	broken  atomic.Pointer[error] // what a check of the whole file found
}

// Open opens the database, brings its form up to date and gives it a device id where it has none.
func Open(ctx context.Context, c Config) (*Store, error) {
	s := &Store{now: c.Now, newID: c.NewID, observe: c.Observe, unclean: c.Unclean, statements: map[string]*sql.Stmt{}}
	if err := s.open(ctx, c.Path); err != nil {
		return nil, errors.Join(Explain(fmt.Errorf("open the database: %w", err)), s.Close())
	}
	return s, nil
}

func (s *Store) open(ctx context.Context, path string) (err error) {
	if s.db, s.read, s.sessions, err = openPools(path); err != nil {
		return err
	}
	if s.conn, err = s.db.Conn(ctx); err != nil {
		return err
	}
	if err := probe(ctx, s.conn, path); err != nil {
		return err
	}
	if err := migrate(ctx, s.conn, s.now); err != nil {
		return err
	}
	if err := s.replayIfWanted(ctx); err != nil {
		return err
	}
	return s.inTx(ctx, func(t *tx) error {
		for _, key := range []string{"device", "epoch"} {
			if err := t.exec(`INSERT INTO meta (key, value) VALUES (?, ?) ON CONFLICT DO NOTHING`, key, s.newID().String()); err != nil {
				return err
			}
		}
		var device string
		if err := t.row(`SELECT value FROM meta WHERE key = 'device'`).Scan(&device); err != nil {
			return err
		}
		var err error
		if s.device, err = uuid.Parse(device); err != nil {
			return damaged([]string{"what this server is called cannot be read"})
		}
		return nil
	})
}

// Close closes the database.
func (s *Store) Close() error {
	s.writing.Lock()
	defer s.writing.Unlock()
	var errs []error
	for _, st := range s.statements {
		errs = append(errs, st.Close())
	}
	s.statements = map[string]*sql.Stmt{}
	s.reads.Range(func(_, st any) bool {
		errs = append(errs, st.(*sql.Stmt).Close())
		return true
	})
	s.reads.Clear()
	if s.conn != nil {
		errs = append(errs, s.conn.Close())
	}
	for _, db := range []*sql.DB{s.sessions, s.read, s.db} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	return errors.Join(errs...)
}

// Sessions gives the database for the session manager, which keeps its own table.
func (s *Store) Sessions() *sql.DB { return s.sessions }

// Healthy says whether the database answers.
func (s *Store) Healthy(ctx context.Context) error {
	if found := s.broken.Load(); found != nil {
		return *found
	}
	var n int
	return s.read.QueryRowContext(ctx, `SELECT count(*) FROM meta`).Scan(&n)
}

// tx is one write transaction: its time is frozen at its start, and what it touched is brought up to date before it
// commits.
type tx struct {
	ctx   context.Context
	s     *Store
	now   time.Time
	n     int64              // the last n of this device; 0: not looked up yet
	dirty map[uuid.UUID]bool // fryers whose standing must be worked out again
	folds map[uuid.UUID]*fold
	snaps map[uuid.UUID]*snap
	// replaying says that the tables are empty and are being made from the journal.
	replaying bool
	changes   bool // something that is not of one fryer's readings alone changes
}

// inTx runs fn in a write transaction and commits when fn succeeds. Once begun it is not cut short by the context.
func (s *Store) inTx(ctx context.Context, fn func(*tx) error) (err error) {
	defer func() { err = Explain(err) }()
	s.writing.Lock()
	defer s.writing.Unlock()
	t := &tx{ctx: context.WithoutCancel(ctx), s: s, now: s.now().UTC().Truncate(time.Millisecond), dirty: map[uuid.UUID]bool{}}
	t.forget()
	if err := t.exec(`BEGIN IMMEDIATE`); err != nil {
		return err
	}
	if err := t.finish(fn); err != nil {
		return errors.Join(err, t.exec(`ROLLBACK`))
	}
	return nil
}

// finish runs fn and commits; a panic on the way rolls back and goes on.
func (t *tx) finish(fn func(*tx) error) error {
	done := false
	defer func() {
		if !done {
			_ = t.exec(`ROLLBACK`) // the panic is the failure that is reported
		}
	}()
	err := fn(t)
	if err == nil {
		err = t.writeFolds()
	}
	if err == nil {
		err = t.refreshDirty()
	}
	if err == nil {
		err = t.exec(`COMMIT`)
	}
	done = true
	t.s.committed(t.changes)
	return err
}

// committed says that what was read before may have changed.
func (s *Store) committed(changes bool) {
	s.commits.Add(1)
	if changes {
		s.changes.Add(1)
	}
}

// forget drops what the transaction holds of fryers' readings.
func (t *tx) forget() {
	t.folds, t.snaps = map[uuid.UUID]*fold{}, map[uuid.UUID]*snap{}
}

// stmt gives the prepared statement of a text.
func (t *tx) stmt(query string) (*sql.Stmt, error) {
	if st, ok := t.s.statements[query]; ok {
		return st, nil
	}
	st, err := t.s.conn.PrepareContext(t.ctx, query)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", brief(query), err)
	}
	t.s.statements[query] = st
	return st, nil
}

func (t *tx) exec(query string, args ...any) error {
	_, err := t.execN(query, args...)
	return err
}

// execN runs a statement and gives the number of rows it touched.
func (t *tx) execN(query string, args ...any) (int64, error) {
	st, err := t.stmt(query)
	if err != nil {
		return 0, err
	}
	defer t.s.observed(query)()
	res, err := st.ExecContext(t.ctx, args...)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", brief(query), err)
	}
	return res.RowsAffected()
}

func (t *tx) row(query string, args ...any) *sql.Row {
	defer t.s.observed(query)()
	st, err := t.stmt(query)
	if err != nil {
		return t.s.conn.QueryRowContext(t.ctx, query, args...) // gives the same error at Scan
	}
	return st.QueryRowContext(t.ctx, args...)
}

func (t *tx) query(query string, args ...any) (cursor, error) {
	st, err := t.stmt(query)
	if err != nil {
		return cursor{}, err
	}
	done := t.s.observed(query)
	rows, err := st.QueryContext(t.ctx, args...)
	return cursor{rows, done}, err
}

// querier is what reads share between a transaction and the read pool.
type querier interface {
	row(query string, args ...any) *sql.Row
	query(query string, args ...any) (cursor, error)
}

// cursor is the rows of a query, and what is called when they have been read.
type cursor struct {
	rows *sql.Rows
	done func()
}

// observed notes the time; what it gives is called when the statement is done.
func (s *Store) observed(query string) func() {
	if s.observe == nil {
		return func() {}
	}
	began := s.now()
	return func() { s.observe(query, s.now().Sub(began)) }
}

// reader reads outside a write transaction.
type reader struct {
	ctx context.Context
	s   *Store
}

func (r reader) row(query string, args ...any) *sql.Row {
	defer r.s.observed(query)()
	if st := r.s.prepared(r.ctx, query); st != nil {
		return st.QueryRowContext(r.ctx, args...)
	}
	return r.s.read.QueryRowContext(r.ctx, query, args...)
}

func (r reader) query(query string, args ...any) (cursor, error) {
	done := r.s.observed(query)
	if st := r.s.prepared(r.ctx, query); st != nil {
		rows, err := st.QueryContext(r.ctx, args...)
		return cursor{rows, done}, err
	}
	rows, err := r.s.read.QueryContext(r.ctx, query, args...)
	return cursor{rows, done}, err
}

// reader gives a reader for the actor of the context. No read is long, and one that can be broken off costs the driver and
// database/sql a goroutine each.
func (s *Store) reader(ctx context.Context) reader { return reader{context.WithoutCancel(ctx), s} }

// mostPrepared bounds how many reads are kept prepared: filters and searches make many texts, most of them seldom.
const mostPrepared = 400

// prepared gives the prepared statement of a read; nil where it is not kept or cannot be prepared, which running it as
// text then says.
func (s *Store) prepared(ctx context.Context, query string) *sql.Stmt {
	if st, ok := s.reads.Load(query); ok {
		return st.(*sql.Stmt)
	}
	if s.readCount.Load() >= mostPrepared {
		return nil
	}
	st, err := s.read.PrepareContext(ctx, query)
	if err != nil {
		return nil
	}
	if other, had := s.reads.LoadOrStore(query, st); had {
		_ = st.Close() // another request was quicker; its statement serves both
		return other.(*sql.Stmt)
	}
	s.readCount.Add(1)
	return st
}

// each runs fn for every row and closes the rows.
func each(c cursor, err error, fn func(*sql.Rows) error) error {
	if err != nil {
		return err
	}
	defer c.done()
	defer c.rows.Close()
	for c.rows.Next() {
		if err := fn(c.rows); err != nil {
			return err
		}
	}
	return c.rows.Err()
}

// brief gives the start of a statement for an error's text.
func brief(query string) string {
	if len(query) > 60 {
		return query[:60] + "…"
	}
	return query
}

// idText stores an id: the empty text for Nil.
func idText(id uuid.UUID) string {
	if id == uuid.Nil {
		return ""
	}
	return id.String()
}

// timeText stores a time: the empty text for the zero time.
func timeText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return journal.FormatTime(t)
}

// timeOf reads what timeText stored.
type timeOf struct{ t *time.Time }

// Scan implements sql.Scanner.
func (d timeOf) Scan(src any) error {
	text, ok := src.(string)
	if !ok {
		return fmt.Errorf("time stored as %T", src)
	}
	if text == "" {
		*d.t = time.Time{}
		return nil
	}
	var err error
	*d.t, err = journal.ParseTime(text)
	return err
}

// need gives a NotFound or Denied fault unless the actor of the context may do the action at the site.
func need(ctx context.Context, action access.Action, site uuid.UUID) error {
	return verdict(access.FromContext(ctx), action, site)
}

func verdict(a access.Actor, action access.Action, site uuid.UUID) error {
	if !a.SignedIn() {
		return fault.New(fault.SignedOut, "Please sign in.")
	}
	switch access.Can(a, action, site) {
	case access.Allowed:
		return nil
	case access.Hidden:
		return notFound()
	default:
		return fault.New(fault.Denied, "Your sign-in is not meant for this.")
	}
}

// notFound is the answer for what does not exist and for what the actor may not see, alike.
func notFound() error {
	return fault.New(fault.NotFound, "There is nothing here, or it is not yours to see.")
}

// orNotFound turns the absence of a row into a NotFound fault.
func orNotFound(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return notFound()
	}
	return err
}

// scope gives the condition that keeps a list to the actor's sites, and its arguments.
func scope(ctx context.Context, column string) (string, []any) {
	a := access.FromContext(ctx)
	if a.SeesAllSites() {
		return "1", nil
	}
	return column + " IN (SELECT site_id FROM person_site WHERE person_id = ?)", []any{idText(a.Person)}
}

// sheetOf gives the decoded sheet of a stored row, decoding each body once. The version is no key to it: one whose
// transaction failed may come again with another body.
func (s *Store) sheetOf(body string) (*sheet.Sheet, error) {
	if known, ok := s.sheets.Load(body); ok {
		return known.(*sheet.Sheet), nil
	}
	sh, err := decodeSheet(body)
	if err != nil {
		return nil, err
	}
	s.sheets.Store(body, sh)
	return sh, nil
}
