CREATE TABLE acceptance (
  fryer_id TEXT NOT NULL,
  key      TEXT NOT NULL,
  vat      INTEGER NOT NULL,
  value    TEXT NOT NULL,
  reason   TEXT NOT NULL,
  until    TEXT NOT NULL,
  by_id    TEXT NOT NULL,
  at       TEXT NOT NULL,
  PRIMARY KEY (fryer_id, key, vat)
) STRICT, WITHOUT ROWID;

CREATE TABLE account (
  person_id     TEXT PRIMARY KEY,
  password_hash TEXT NOT NULL,          -- '' until the invitation is taken up
  generation    INTEGER NOT NULL,       -- raised to sign out everywhere
  signed_in_at  TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE account_note (
  n         INTEGER PRIMARY KEY,
  person_id TEXT NOT NULL,
  at        TEXT NOT NULL,
  what      TEXT NOT NULL,
  by_id     TEXT NOT NULL,              -- '' for the program itself
  reason    TEXT NOT NULL
) STRICT;

CREATE INDEX account_note_person ON account_note (person_id, n);

CREATE TABLE customer (
  id      TEXT PRIMARY KEY,
  code    TEXT NOT NULL UNIQUE COLLATE NOCASE,
  name    TEXT NOT NULL,
  note    TEXT NOT NULL,
  version TEXT NOT NULL
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

CREATE INDEX entry_fryer ON entry (fryer, seq) WHERE fryer <> '';

CREATE INDEX entry_site ON entry (site, seq) WHERE site <> '';

CREATE INDEX entry_stream ON entry (stream, seq);

CREATE INDEX entry_subject ON entry (subject, seq);

CREATE TABLE event (
  entry_id TEXT PRIMARY KEY,
  fryer_id TEXT NOT NULL,
  what     TEXT NOT NULL,
  happened TEXT NOT NULL,
  note     TEXT NOT NULL,
  author   TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE INDEX event_fryer ON event (fryer_id, happened DESC, entry_id DESC, what);

CREATE TABLE factor (
  person_id    TEXT PRIMARY KEY,
  secret       TEXT NOT NULL,           -- sealed with a key that is not in the database
  begun_at     TEXT NOT NULL,
  confirmed_at TEXT NOT NULL,           -- '' until the first code was right
  last_step    INTEGER NOT NULL         -- of the last code that was taken: no code of it or before is taken again
) STRICT, WITHOUT ROWID;

CREATE TABLE fryer (
  id         TEXT PRIMARY KEY,
  tag        TEXT NOT NULL UNIQUE COLLATE NOCASE,
  site_id    TEXT NOT NULL,
  model_id   TEXT NOT NULL,
  name       TEXT NOT NULL,
  serial     TEXT NOT NULL,
  installed  TEXT NOT NULL,
  note       TEXT NOT NULL,
  retired_at TEXT NOT NULL,             -- '' while in use
  version    TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE INDEX fryer_model ON fryer (model_id, site_id);

CREATE INDEX fryer_serial ON fryer (serial) WHERE serial <> '';

CREATE INDEX fryer_site ON fryer (site_id, tag);

CREATE TABLE fryer_word (
  fryer_id TEXT NOT NULL,
  word     TEXT NOT NULL,
  PRIMARY KEY (fryer_id, word)
) STRICT, WITHOUT ROWID;

CREATE INDEX fryer_word_word ON fryer_word (word, fryer_id);

CREATE TABLE invitation (
  token_hash TEXT PRIMARY KEY,          -- SHA-256 of the token, hex
  person_id  TEXT NOT NULL,             -- '' for the set-up link
  made_at    TEXT NOT NULL,
  expires_at TEXT NOT NULL,
  used_at    TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE INDEX invitation_person ON invitation (person_id);

CREATE TABLE known (
  fryer_id TEXT PRIMARY KEY,
  readings BLOB NOT NULL                -- packed: ref, value, at, since
) STRICT, WITHOUT ROWID;

CREATE TABLE known_browser (
  person_id  TEXT NOT NULL,
  token_hash TEXT NOT NULL,             -- SHA-256 of a cookie, hex
  seen_at    TEXT NOT NULL,
  PRIMARY KEY (person_id, token_hash)
) STRICT, WITHOUT ROWID;

CREATE TABLE layer (
  id         TEXT PRIMARY KEY,          -- standard.LayerID
  level      TEXT NOT NULL,
  of_id      TEXT NOT NULL,
  sheet_id   TEXT NOT NULL,
  version    TEXT NOT NULL,
  changed_at TEXT NOT NULL,
  changed_by TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE INDEX layer_level ON layer (level, changed_at DESC, id);

CREATE INDEX layer_of ON layer (of_id);

CREATE INDEX layer_sheet ON layer (sheet_id, level);

CREATE TABLE layer_value (
  layer_id TEXT NOT NULL,
  key      TEXT NOT NULL,
  vat      INTEGER NOT NULL,
  value    TEXT NOT NULL,
  by_id    TEXT NOT NULL,
  at       TEXT NOT NULL,
  why      TEXT NOT NULL,
  PRIMARY KEY (layer_id, key, vat)
) STRICT, WITHOUT ROWID;

CREATE TABLE meta (
  key   TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE migration (name TEXT PRIMARY KEY, at TEXT NOT NULL) STRICT, WITHOUT ROWID;

CREATE TABLE model (
  id       TEXT PRIMARY KEY,
  code     TEXT NOT NULL UNIQUE COLLATE NOCASE,
  name     TEXT NOT NULL,
  sheet_id TEXT NOT NULL,
  energy   TEXT NOT NULL,
  pot      TEXT NOT NULL,
  body     TEXT NOT NULL,
  version  TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE INDEX model_sheet ON model (sheet_id);

CREATE TABLE person (
  id      TEXT PRIMARY KEY,
  name    TEXT NOT NULL,
  email   TEXT NOT NULL UNIQUE COLLATE NOCASE,
  role    TEXT NOT NULL,
  areas   TEXT NOT NULL,                -- JSON list
  sites   TEXT NOT NULL,                -- JSON list
  gone    INTEGER NOT NULL,
  version TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE person_site (
  person_id TEXT NOT NULL,
  site_id   TEXT NOT NULL,
  PRIMARY KEY (person_id, site_id)
) STRICT, WITHOUT ROWID;

CREATE INDEX person_site_site ON person_site (site_id);

CREATE TABLE quarantine (
  entry_id   TEXT PRIMARY KEY,
  seq        INTEGER NOT NULL,
  reason     TEXT NOT NULL,             -- in plain words
  settled_at TEXT NOT NULL DEFAULT '',
  settled_by TEXT NOT NULL DEFAULT '',
  outcome    TEXT NOT NULL DEFAULT '',  -- applied, or left out
  after_seq  INTEGER NOT NULL DEFAULT 0 -- where it was applied: after which entry, so that a replay does the same
, settled_n INTEGER NOT NULL DEFAULT 0) STRICT, WITHOUT ROWID;

CREATE INDEX quarantine_open ON quarantine (seq) WHERE settled_at = '';

CREATE TABLE recovery_code (
  code_hash TEXT PRIMARY KEY,           -- SHA-256 of a random code of 120 bits, hex
  person_id TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE INDEX recovery_code_person ON recovery_code (person_id);

CREATE TABLE sessions (
  token  TEXT PRIMARY KEY,
  data   BLOB NOT NULL,
  expiry REAL NOT NULL
);

CREATE INDEX sessions_expiry_idx ON sessions (expiry);

CREATE TABLE sheet (
  id         TEXT PRIMARY KEY,
  code       TEXT NOT NULL UNIQUE COLLATE NOCASE,
  name       TEXT NOT NULL,
  body       TEXT NOT NULL,
  version    TEXT NOT NULL,
  changed_at TEXT NOT NULL,
  changed_by TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE signin (
  token_hash TEXT PRIMARY KEY,          -- SHA-256 of the session's token, hex
  id         TEXT NOT NULL UNIQUE,      -- names it on pages
  person_id  TEXT NOT NULL,
  began_at   TEXT NOT NULL,
  seen_at    TEXT NOT NULL,             -- coarse
  agent      TEXT NOT NULL,             -- the device in plain words
  strong     INTEGER NOT NULL           -- 1: a second factor was given
) STRICT, WITHOUT ROWID;

CREATE INDEX signin_began ON signin (began_at);

CREATE INDEX signin_person ON signin (person_id, began_at);

CREATE TABLE site (
  id           TEXT PRIMARY KEY,
  code         TEXT NOT NULL UNIQUE COLLATE NOCASE,
  customer_id  TEXT NOT NULL,
  name         TEXT NOT NULL,
  address      TEXT NOT NULL,
  town         TEXT NOT NULL,
  country      TEXT NOT NULL,
  area         TEXT NOT NULL,
  lat          REAL,
  lon          REAL,
  elevation_m  REAL NOT NULL,
  zone         TEXT NOT NULL,
  supply_volts REAL NOT NULL,
  gas          TEXT NOT NULL,
  access       TEXT NOT NULL,
  version      TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE INDEX site_area ON site (area);

CREATE INDEX site_customer ON site (customer_id, name);

CREATE INDEX site_name ON site (name, id);

CREATE TABLE site_rule (
  site_id TEXT NOT NULL,
  rule    TEXT NOT NULL,
  by_id   TEXT NOT NULL,
  at      TEXT NOT NULL,
  PRIMARY KEY (site_id, rule)
) STRICT, WITHOUT ROWID;

CREATE TABLE site_word (
  site_id TEXT NOT NULL,
  word    TEXT NOT NULL,
  PRIMARY KEY (site_id, word)
) STRICT, WITHOUT ROWID;

CREATE INDEX site_word_word ON site_word (word, site_id);

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

CREATE INDEX snapshot_done ON snapshot (fryer_id, finished DESC, begun DESC, id DESC, purpose) WHERE finished <> '' AND known > 0;

CREATE INDEX snapshot_fryer ON snapshot (fryer_id, begun DESC);

CREATE INDEX snapshot_open ON snapshot (fryer_id, begun DESC, id DESC) WHERE finished = '' AND dropped = 0;

CREATE TRIGGER standing_added AFTER INSERT ON standing BEGIN
  INSERT INTO tally VALUES (new.customer_id, new.in_use, new.worst, new.hands, new.stale_since <> '', new.open_id <> '', new.last_read = '', 1)
    ON CONFLICT DO UPDATE SET n = n + 1;
END;

CREATE TRIGGER standing_changed AFTER UPDATE ON standing
WHEN (old.customer_id, old.in_use, old.worst, old.hands, old.stale_since <> '', old.open_id <> '', old.last_read = '')
  <> (new.customer_id, new.in_use, new.worst, new.hands, new.stale_since <> '', new.open_id <> '', new.last_read = '') BEGIN
  UPDATE tally SET n = n - 1 WHERE customer_id = old.customer_id AND in_use = old.in_use AND worst = old.worst AND hands = old.hands
    AND stale = (old.stale_since <> '') AND open = (old.open_id <> '') AND never = (old.last_read = '');
  INSERT INTO tally VALUES (new.customer_id, new.in_use, new.worst, new.hands, new.stale_since <> '', new.open_id <> '', new.last_read = '', 1)
    ON CONFLICT DO UPDATE SET n = n + 1;
END;

CREATE TABLE standing (
  fryer_id     TEXT PRIMARY KEY,
  site_id      TEXT NOT NULL,
  customer_id  TEXT NOT NULL,
  place        TEXT NOT NULL,           -- order of lists: the restaurant's name, then the tag
  rank         TEXT NOT NULL,           -- order on the desk: the sooner the smaller
  places       INTEGER NOT NULL,
  matching     INTEGER NOT NULL,
  unknown      INTEGER NOT NULL,
  accepted     INTEGER NOT NULL,
  safety       INTEGER NOT NULL,
  food         INTEGER NOT NULL,
  output       INTEGER NOT NULL,
  minor        INTEGER NOT NULL,
  broken       INTEGER NOT NULL,
  put_back     INTEGER NOT NULL,
  ticked       INTEGER NOT NULL,
  since        TEXT NOT NULL,           -- '' where nothing is wrong
  last_read    TEXT NOT NULL,           -- '' for never
  last_purpose TEXT NOT NULL,
  stale_since  TEXT NOT NULL,           -- '' where nothing happened since
  stale_what   TEXT NOT NULL,
  cause        TEXT NOT NULL,
  cause_odds   REAL NOT NULL,
  open_id      TEXT NOT NULL,           -- '' for none
  worst        INTEGER NOT NULL,        -- sheet.Class; 0 for nothing
  in_use       INTEGER NOT NULL,        -- 0 once retired
  hands        INTEGER NOT NULL,        -- 1: in use and needs somebody
  recheck_at   TEXT NOT NULL            -- when an accepted difference runs out; '' for never
) STRICT, WITHOUT ROWID;

CREATE INDEX standing_customer ON standing (customer_id, place) WHERE in_use = 1;

CREATE INDEX standing_desk ON standing (rank, since) WHERE hands = 1;

CREATE INDEX standing_desk_customer ON standing (customer_id, rank, since) WHERE hands = 1;

CREATE INDEX standing_desk_site ON standing (site_id, rank, worst) WHERE hands = 1;

CREATE INDEX standing_never ON standing (place) WHERE in_use = 1 AND last_read = '';

CREATE INDEX standing_open ON standing (rank) WHERE hands = 1 AND open_id <> '';

CREATE INDEX standing_place ON standing (place) WHERE in_use = 1;

CREATE INDEX standing_recheck ON standing (recheck_at) WHERE recheck_at <> '';

CREATE INDEX standing_site ON standing (site_id, place, in_use, worst, stale_since);

CREATE INDEX standing_stale ON standing (rank) WHERE hands = 1 AND stale_since <> '';

CREATE TABLE tally (
  customer_id TEXT NOT NULL,
  in_use      INTEGER NOT NULL,
  worst       INTEGER NOT NULL,
  hands       INTEGER NOT NULL,
  stale       INTEGER NOT NULL,
  open        INTEGER NOT NULL,
  never       INTEGER NOT NULL,
  n           INTEGER NOT NULL,
  PRIMARY KEY (customer_id, in_use, worst, hands, stale, open, never)
) STRICT, WITHOUT ROWID;

CREATE TABLE tick (
  fryer_id TEXT NOT NULL,
  key      TEXT NOT NULL,
  vat      INTEGER NOT NULL,
  value    TEXT NOT NULL,
  at       TEXT NOT NULL,
  author   TEXT NOT NULL,
  PRIMARY KEY (fryer_id, key, vat)
) STRICT, WITHOUT ROWID;

