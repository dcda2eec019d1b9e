-- Where somebody is signed in: one row a session, beside the session manager's own table. A session without its row is
-- nobody's, so that deleting the row ends it.
CREATE TABLE signin (
  token_hash TEXT PRIMARY KEY,          -- SHA-256 of the session's token, hex
  id         TEXT NOT NULL UNIQUE,      -- names it on pages
  person_id  TEXT NOT NULL,
  began_at   TEXT NOT NULL,
  seen_at    TEXT NOT NULL,             -- coarse
  agent      TEXT NOT NULL,             -- the device in plain words
  strong     INTEGER NOT NULL           -- 1: a second factor was given
) STRICT, WITHOUT ROWID;
CREATE INDEX signin_person ON signin (person_id, began_at);
CREATE INDEX signin_began ON signin (began_at);

-- The secret that a person's phone and the server share.
CREATE TABLE factor (
  person_id    TEXT PRIMARY KEY,
  secret       TEXT NOT NULL,           -- sealed with a key that is not in the database
  begun_at     TEXT NOT NULL,
  confirmed_at TEXT NOT NULL,           -- '' until the first code was right
  last_step    INTEGER NOT NULL         -- of the last code that was taken: no code of it or before is taken again
) STRICT, WITHOUT ROWID;

-- What lets a person in when the phone is lost; a code is deleted when it is used.
CREATE TABLE recovery_code (
  code_hash TEXT PRIMARY KEY,           -- SHA-256 of a random code of 120 bits, hex
  person_id TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX recovery_code_person ON recovery_code (person_id);

-- Browsers from which a person has signed in before: strangers cannot slow their sign-in down.
CREATE TABLE known_browser (
  person_id  TEXT NOT NULL,
  token_hash TEXT NOT NULL,             -- SHA-256 of a cookie, hex
  seen_at    TEXT NOT NULL,
  PRIMARY KEY (person_id, token_hash)
) STRICT, WITHOUT ROWID;

-- What happened to a person's sign-in, for them and for administrators.
CREATE TABLE account_note (
  n         INTEGER PRIMARY KEY,
  person_id TEXT NOT NULL,
  at        TEXT NOT NULL,
  what      TEXT NOT NULL,
  by_id     TEXT NOT NULL,              -- '' for the program itself
  reason    TEXT NOT NULL
) STRICT;
CREATE INDEX account_note_person ON account_note (person_id, n);
