-- In which order the entries that were set aside were settled: a replay applies them in the same.
ALTER TABLE quarantine ADD COLUMN settled_n INTEGER NOT NULL DEFAULT 0;
