package store

import "context"

// Entries gives the number of the last entry of the journal, which is how many there are.
func (s *Store) Entries(ctx context.Context) (int64, error) {
	var n int64
	err := s.reader(ctx).row(`SELECT coalesce(max(seq), 0) FROM entry`).Scan(&n)
	return n, err
}
