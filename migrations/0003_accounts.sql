-- Sign-in: secrets and sessions, which are never in the journal.
CREATE TABLE account (
  person_id     TEXT PRIMARY KEY,
  password_hash TEXT NOT NULL,          -- '' until the invitation is taken up
  generation    INTEGER NOT NULL,       -- raised to sign out everywhere
  signed_in_at  TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Links that are used once: an invitation, a new password, the set-up of an instance without people.
CREATE TABLE invitation (
  token_hash TEXT PRIMARY KEY,          -- SHA-256 of the token, hex
  person_id  TEXT NOT NULL,             -- '' for the set-up link
  made_at    TEXT NOT NULL,
  expires_at TEXT NOT NULL,
  used_at    TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX invitation_person ON invitation (person_id);

-- The form is what scs/sqlite3store reads and writes.
CREATE TABLE sessions (
  token  TEXT PRIMARY KEY,
  data   BLOB NOT NULL,
  expiry REAL NOT NULL
);
CREATE INDEX sessions_expiry_idx ON sessions (expiry);
