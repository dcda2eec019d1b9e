-- Lists find their rows and their order in the standing of a fryer alone, whatever the size of the fleet.
DROP TABLE standing;
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
CREATE INDEX standing_place ON standing (place) WHERE in_use = 1;
CREATE INDEX standing_customer ON standing (customer_id, place) WHERE in_use = 1;
CREATE INDEX standing_site ON standing (site_id, place, in_use, worst, stale_since);
CREATE INDEX standing_desk ON standing (rank, since) WHERE hands = 1;
CREATE INDEX standing_desk_customer ON standing (customer_id, rank, since) WHERE hands = 1;
CREATE INDEX standing_desk_site ON standing (site_id, rank, worst) WHERE hands = 1;
CREATE INDEX standing_stale ON standing (rank) WHERE hands = 1 AND stale_since <> '';
CREATE INDEX standing_open ON standing (rank) WHERE hands = 1 AND open_id <> '';
CREATE INDEX standing_never ON standing (place) WHERE in_use = 1 AND last_read = '';
CREATE INDEX standing_recheck ON standing (recheck_at) WHERE recheck_at <> '';

-- How many fryers stand alike, kept as they change.
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

-- The words by which fryers and restaurants are found, in small letters and without accents.
CREATE TABLE fryer_word (
  fryer_id TEXT NOT NULL,
  word     TEXT NOT NULL,
  PRIMARY KEY (fryer_id, word)
) STRICT, WITHOUT ROWID;
CREATE INDEX fryer_word_word ON fryer_word (word, fryer_id);
CREATE TABLE site_word (
  site_id TEXT NOT NULL,
  word    TEXT NOT NULL,
  PRIMARY KEY (site_id, word)
) STRICT, WITHOUT ROWID;
CREATE INDEX site_word_word ON site_word (word, site_id);

CREATE INDEX layer_level ON layer (level, changed_at DESC, id);

-- Opening the database replays the journal once.
INSERT INTO meta (key, value) VALUES ('replay', 'wanted') ON CONFLICT DO NOTHING;
