package store

import "context"

// Renew makes of a copy that is put in the place of its original a database of its own: a new epoch, so that phones send
// again what they kept, and a new device id, for what was recorded after the copy was made has its numbers elsewhere.
// Nobody stays signed in, and no link that was open then opens anything: it may have been used since.
func (s *Store) Renew(ctx context.Context) error {
	return s.inTx(ctx, func(t *tx) error {
		for _, key := range []string{"device", "epoch"} {
			if err := t.exec(`UPDATE meta SET value = ? WHERE key = ?`, s.newID().String(), key); err != nil {
				return err
			}
		}
		for _, statement := range []string{
			`DELETE FROM sessions`,
			`DELETE FROM signin`,
			`DELETE FROM invitation WHERE used_at = ''`,
			`UPDATE account SET generation = generation + 1`,
		} {
			if err := t.exec(statement); err != nil {
				return err
			}
		}
		return t.row(`SELECT value FROM meta WHERE key = 'device'`).Scan(&s.device)
	})
}
