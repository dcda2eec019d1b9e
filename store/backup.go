package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"frywright/domain/fault"

	"github.com/google/uuid"
)

// unfinished is behind the name of a copy until it is whole and looked through: a copy cut short is taken for none.
const unfinished = ".part"

// OpenBeside opens a database to be read only, beside a process that may be writing it. Its form is left as it is.
func OpenBeside(ctx context.Context, c Config) (*Store, error) {
	s, err := openToRead(ctx, c, "")
	if errors.Is(err, errUnwritable) && !hasLog(c.Path) {
		// Even to be read a database needs what SQLite keeps beside it, but where nobody can write.
		s, err = openToRead(ctx, c, "&immutable=1")
	}
	return s, err
}

// errUnwritable marks a database that cannot even be read where nothing can be written beside it.
var errUnwritable = errors.New("nothing can be written beside the database")

func openToRead(ctx context.Context, c Config, how string) (*Store, error) {
	read, err := openBeside(c.Path, how)
	if err != nil {
		return nil, err
	}
	s := &Store{read: read, sessions: read, now: c.Now, newID: c.NewID, observe: c.Observe}
	if err := probe(ctx, read, c.Path); err != nil {
		if code := codeOf(err); code == codeCantOpen || code == codeReadOnly {
			err = fault.Wrap(fmt.Errorf("%w: %w", errUnwritable, err), fault.Unavailable, "%s cannot be opened to be read. Look at whose it is, and who is asking.", c.Path)
		}
		return nil, errors.Join(Explain(err), s.Close())
	}
	return s, nil
}

// hasLog says whether a log beside the database holds what is not yet in it.
func hasLog(path string) bool {
	log, err := os.Stat(path + "-wal")
	return err == nil && log.Size() > 0
}

// Content is what a database holds, in short.
type Content struct {
	Entries int64     // in the journal
	Last    time.Time // when the last of them came in; the zero time for none
	Epoch   uuid.UUID // another one after every restore
	Device  uuid.UUID // of the server
}

// Content gives what the database holds, in short.
func (s *Store) Content(ctx context.Context) (Content, error) {
	var c Content
	q := s.reader(ctx)
	err := q.row(`SELECT count(*), (SELECT coalesce(max(received_at), '') FROM (SELECT received_at FROM entry ORDER BY seq DESC LIMIT 1)) FROM entry`).
		Scan(&c.Entries, timeOf{&c.Last})
	for key, to := range map[string]*uuid.UUID{"epoch": &c.Epoch, "device": &c.Device} {
		err = errors.Join(err, q.row(`SELECT value FROM meta WHERE key = ?`, key).Scan(to))
	}
	return c, Explain(err)
}

// Backup writes a copy of the database, as of one moment, to a new file while the store is in use; writers are not held
// up. Where it is to be verified the copy is looked through as by VerifyCopy, and what it holds is given. Only its owner may
// read it, for it holds the hashes of passwords. It has its name when all of this is done.
func (s *Store) Backup(ctx context.Context, path string, verify bool) (c Content, err error) {
	part := path + unfinished
	if err := place(path, part); err != nil {
		return c, err
	}
	defer func() { err = Explain(errors.Join(err, drop(part))) }()
	if _, err := s.sessions.ExecContext(ctx, `VACUUM INTO ?`, part); err != nil {
		return c, fmt.Errorf("back up: %w", err)
	}
	if err := syncFile(part); err != nil {
		return c, fmt.Errorf("back up: %w", err)
	}
	if verify {
		if c, err = VerifyCopy(ctx, part); err != nil {
			return c, fmt.Errorf("verify the copy: %w", err)
		}
	}
	if err := errors.Join(os.Link(part, path), syncFile(filepath.Dir(path))); err != nil {
		return c, fmt.Errorf("back up: %w", err)
	}
	return c, nil
}

// place makes the empty file that is written to.
func place(path, part string) error {
	if _, err := os.Lstat(path); err == nil {
		return fault.New(fault.Invalid, "%s exists already. Nothing was written: name a new file.", path)
	}
	if err := drop(part); err != nil {
		return err
	}
	f, err := os.OpenFile(part, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fault.New(fault.Invalid, "There is no folder %s. Make it first, or name a file elsewhere.", filepath.Dir(path))
	case errors.Is(err, fs.ErrPermission):
		return fault.New(fault.Invalid, "This user may not write to the folder %s. Name a file elsewhere.", filepath.Dir(path))
	case err != nil:
		return fmt.Errorf("back up: %w", err)
	}
	return f.Close()
}

// drop removes a file that need not be there.
func drop(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// syncFile waits until a file, or the names in a folder, are on the disk.
func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// VerifyCopy looks a copy through: SQLite's own check, then every hash and number of its journal. It gives what it holds.
func VerifyCopy(ctx context.Context, path string) (Content, error) {
	s, err := OpenBeside(ctx, Config{Path: path})
	if err != nil {
		return Content{}, err
	}
	defer s.Close() //nolint:errcheck // it was only read
	if err := s.CheckFile(ctx); err != nil {
		return Content{}, err
	}
	if err := s.Verify(ctx); err != nil {
		return Content{}, fault.Wrap(err, fault.Unavailable, "The journal in %s does not hold: %s", path, err)
	}
	return s.Content(ctx)
}
