-- Version 1 of the catalogue. Dates and times are ISO 8601 text, so that they sort; temperatures
-- are in °C, durations in s. A later version is a new file that alters this one in place.

CREATE TABLE cars (
    n     INTEGER PRIMARY KEY,
    sheet TEXT NOT NULL UNIQUE            -- TOML
) STRICT;

CREATE TABLE setups (
    n     INTEGER PRIMARY KEY,
    name  TEXT NOT NULL,
    sheet TEXT NOT NULL,                  -- TOML
    UNIQUE (name, sheet)
) STRICT;

-- AUTOINCREMENT: a number is never given twice.
CREATE TABLE sessions (
    n               INTEGER PRIMARY KEY AUTOINCREMENT,
    car             INTEGER NOT NULL REFERENCES cars,
    setup           INTEGER NOT NULL REFERENCES setups,
    start           TEXT,                 -- local time of the venue
    day             TEXT,
    duration_s      REAL NOT NULL,
    rows_read       INTEGER NOT NULL,
    rows_kept       INTEGER NOT NULL,
    driver          TEXT,
    note            TEXT,
    parquet_bytes   INTEGER NOT NULL,     -- of channels/session=sN/part-0.parquet
    parquet_sha256  TEXT NOT NULL
) STRICT;

-- What was imported, by content: the same bytes make no second session.
CREATE TABLE files (
    sha256  TEXT PRIMARY KEY,
    name    TEXT NOT NULL,
    session INTEGER NOT NULL UNIQUE REFERENCES sessions
) STRICT;

CREATE TABLE channels (
    session          INTEGER NOT NULL REFERENCES sessions,
    role             TEXT NOT NULL,
    file_column      TEXT NOT NULL,
    unit             TEXT NOT NULL,
    unit_from        TEXT NOT NULL,
    resolution       REAL,
    median_refresh_s REAL,
    missing_fraction REAL NOT NULL,
    min              REAL,
    max              REAL,
    mean             REAL,
    PRIMARY KEY (session, role)
) STRICT;

CREATE TABLE alignments (
    session     INTEGER NOT NULL REFERENCES sessions,
    place       INTEGER NOT NULL,
    file        TEXT NOT NULL,
    offset_s    REAL NOT NULL,
    drift_ppm   REAL,
    correlation REAL,
    PRIMARY KEY (session, place)
) STRICT;

CREATE TABLE warnings (
    session  INTEGER NOT NULL REFERENCES sessions,
    place    INTEGER NOT NULL,
    id       TEXT NOT NULL,
    severity TEXT NOT NULL,
    message  TEXT NOT NULL,
    PRIMARY KEY (session, place)
) STRICT;

CREATE TABLE exclusions (
    session INTEGER PRIMARY KEY REFERENCES sessions,
    reason  TEXT NOT NULL
) STRICT;

-- Answers that were computed before; `key` stands for tool version, settings and sheets.
CREATE TABLE fits (
    n       INTEGER PRIMARY KEY AUTOINCREMENT,
    session INTEGER NOT NULL REFERENCES sessions,
    key     TEXT NOT NULL,
    answer  TEXT NOT NULL,                -- JSON
    UNIQUE (session, key)
) STRICT;

CREATE TABLE history (
    n         INTEGER PRIMARY KEY AUTOINCREMENT,
    at_utc    TEXT NOT NULL,
    session   INTEGER NOT NULL REFERENCES sessions,
    field     TEXT NOT NULL,
    old_value TEXT,
    new_value TEXT
) STRICT;

-- One row for each different body of evidence that a pair of setups was compared on.
-- The two names stand in alphabetical order: exchanging before and after is no new pair.
CREATE TABLE looks (
    one_setup   TEXT NOT NULL,
    other_setup TEXT NOT NULL,
    evidence    TEXT NOT NULL,
    PRIMARY KEY (one_setup, other_setup, evidence)
) STRICT;
