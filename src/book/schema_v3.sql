-- Version 3: seals. SQLite notices a damaged page, but not a changed bit inside a value. For each
-- session (`s3`) and for what stands on pairs of setups (`pairs`), the SHA-256 of all their values.
-- Fits are answers that can be computed again: they are dropped here, and each carries its own.

CREATE TABLE seals (
    what   TEXT PRIMARY KEY,
    sha256 TEXT NOT NULL
) STRICT;

DROP TABLE fits;

CREATE TABLE fits (
    n       INTEGER PRIMARY KEY AUTOINCREMENT,
    session INTEGER NOT NULL REFERENCES sessions,
    key     TEXT NOT NULL,
    answer  TEXT NOT NULL,                -- JSON
    sha256  TEXT NOT NULL,                -- of the answer
    UNIQUE (session, key)
) STRICT;
