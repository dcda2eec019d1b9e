-- Readings are kept packed, behind the columns by which they are found. Both tables are made again from the journal.
DROP TABLE snapshot;
CREATE TABLE snapshot (
  id       TEXT PRIMARY KEY,
  fryer_id TEXT NOT NULL,
  site_id  TEXT NOT NULL,
  purpose  TEXT NOT NULL,
  begun    TEXT NOT NULL,
  finished TEXT NOT NULL,               -- '' while open
  dropped  INTEGER NOT NULL,
  author   TEXT NOT NULL,
  known    INTEGER NOT NULL,            -- how many have a value
  note     TEXT NOT NULL,
  readings BLOB NOT NULL                -- packed: the latest of each ref
) STRICT, WITHOUT ROWID;
CREATE INDEX snapshot_fryer ON snapshot (fryer_id, begun DESC);
CREATE INDEX snapshot_done ON snapshot (fryer_id, finished DESC, begun DESC, id DESC, purpose) WHERE finished <> '' AND known > 0;
CREATE INDEX snapshot_open ON snapshot (fryer_id, begun DESC, id DESC) WHERE finished = '' AND dropped = 0;

DROP TABLE known;
CREATE TABLE known (
  fryer_id TEXT PRIMARY KEY,
  readings BLOB NOT NULL                -- packed: ref, value, at, since
) STRICT, WITHOUT ROWID;

DROP INDEX event_fryer;
CREATE INDEX event_fryer ON event (fryer_id, happened DESC, entry_id DESC, what);

-- Opening the database replays the journal once.
INSERT INTO meta (key, value) VALUES ('replay', 'wanted') ON CONFLICT DO NOTHING;
