package store

import (
	"context"
	"fmt"
	"iter"

	"frywright/domain/entry"
	"frywright/domain/journal"

	"github.com/google/uuid"
)

// Filed is an entry as it is loaded: whole, with what the journal's row keeps of it besides.
type Filed struct {
	Entry journal.Entry
	Body  journal.Body // what Entry.Body says
	Fryer uuid.UUID    // the fryer that it is about; Nil for none
}

// loadPage is how many entries are loaded in one transaction.
const loadPage = 50_000

// Load puts a journal that was made elsewhere into an empty database, in its order, as if every entry had come in when its
// ReceivedAt says, and gives how many there were. Nothing is projected and nothing is asked: what is loaded must be right,
// and Rebuild must follow. It works in pages, so that the log of a large one stays small; where it fails, the database is to
// be thrown away.
func (s *Store) Load(ctx context.Context, entries iter.Seq2[Filed, error]) (int, error) {
	next, stop := iter.Pull2(entries)
	defer stop()
	loaded, more := 0, true
	for more {
		err := s.inTx(ctx, func(t *tx) error {
			for range loadPage {
				f, err, ok := next()
				if more = ok; !ok || err != nil {
					return err
				}
				if err := t.load(f); err != nil {
					return err
				}
				loaded++
			}
			return ctx.Err()
		})
		if err != nil {
			return loaded, err
		}
	}
	return loaded, nil
}

func (t *tx) load(f Filed) error {
	fresh, err := t.file(&f.Entry, entry.Stream(f.Entry.Site, f.Body), f.Fryer)
	if err == nil && !fresh {
		err = fmt.Errorf("entry %s is there twice", f.Entry.ID)
	}
	return err
}
