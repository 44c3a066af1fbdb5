-- Version 2: the test that was planned for a pair of setups, so that a look at another number of
-- sessions can be said to be unplanned. Names in alphabetical order, as in `looks`; the last plan
-- counts.

CREATE TABLE plans (
    one_setup          TEXT NOT NULL,
    other_setup        TEXT NOT NULL,
    sessions_per_setup INTEGER NOT NULL,
    days               INTEGER NOT NULL,
    at_utc             TEXT NOT NULL,
    PRIMARY KEY (one_setup, other_setup)
) STRICT;
