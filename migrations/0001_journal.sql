-- The journal: what happened, and nothing else. Everything that is not in it, but accounts, can be made from it again.
CREATE TABLE meta (
  key   TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE entry (
  seq         INTEGER PRIMARY KEY AUTOINCREMENT,
  id          TEXT NOT NULL UNIQUE,
  device      TEXT NOT NULL,
  n           INTEGER NOT NULL,
  kind        TEXT NOT NULL,
  v           INTEGER NOT NULL,
  at          TEXT NOT NULL,
  zone        TEXT NOT NULL,
  skew_ms     INTEGER NOT NULL,
  author      TEXT NOT NULL,
  site        TEXT NOT NULL,            -- '' for the company's
  subject     TEXT NOT NULL,
  base        TEXT NOT NULL,            -- '' for none
  body        TEXT NOT NULL,
  hash        TEXT NOT NULL,
  received_at TEXT NOT NULL,
  stream      TEXT NOT NULL,
  fryer       TEXT NOT NULL DEFAULT '', -- the fryer it is about, for timelines
  UNIQUE (device, n)
) STRICT;
CREATE INDEX entry_subject ON entry (subject, seq);
CREATE INDEX entry_stream ON entry (stream, seq);
CREATE INDEX entry_site ON entry (site, seq) WHERE site <> '';
CREATE INDEX entry_fryer ON entry (fryer, seq) WHERE fryer <> '';

-- Entries that were kept but not projected: malformed, unauthorised, too new, or unable to be applied.
CREATE TABLE quarantine (
  entry_id   TEXT PRIMARY KEY,
  seq        INTEGER NOT NULL,
  reason     TEXT NOT NULL,             -- in plain words
  settled_at TEXT NOT NULL DEFAULT '',
  settled_by TEXT NOT NULL DEFAULT '',
  outcome    TEXT NOT NULL DEFAULT '',  -- applied, or left out
  after_seq  INTEGER NOT NULL DEFAULT 0 -- where it was applied: after which entry, so that a replay does the same
) STRICT, WITHOUT ROWID;
CREATE INDEX quarantine_open ON quarantine (seq) WHERE settled_at = '';
