package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"frywright/domain/fault"
)

// Backup writes a copy of the database, as of one moment, to a new file while the store is in use. Only its owner may read
// it, for it holds the hashes of passwords.
func (s *Store) Backup(ctx context.Context, path string) (err error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	switch {
	case errors.Is(err, fs.ErrExist):
		return fault.New(fault.Invalid, "%s exists already. Nothing was written: name a new file.", path)
	case errors.Is(err, fs.ErrNotExist):
		return fault.New(fault.Invalid, "There is no folder %s. Make it first, or name a file elsewhere.", filepath.Dir(path))
	case err != nil:
		return fmt.Errorf("back up: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(path))
		}
	}()
	if _, err = s.sessions.ExecContext(ctx, `VACUUM INTO ?`, path); err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("back up: %w", err)
	}
	return nil
}
