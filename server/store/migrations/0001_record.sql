-- The record: one append-only log per mill, and the projections every entry has.
-- Times are UTC milliseconds; offsets are minutes east of UTC.

CREATE TABLE migrations (
    number INTEGER PRIMARY KEY,
    name   TEXT NOT NULL
);

CREATE TABLE mills (
    id   TEXT PRIMARY KEY,
    name TEXT NOT NULL,
    doc  TEXT NOT NULL
);

CREATE TABLE log_heads (
    mill TEXT   PRIMARY KEY,
    size BIGINT NOT NULL,
    root BLOB   NOT NULL,
    last BIGINT NOT NULL
);

CREATE TABLE entries (
    mill            TEXT   NOT NULL,
    seq             BIGINT NOT NULL,
    id              TEXT   NOT NULL,
    kind            TEXT   NOT NULL,
    version         BIGINT NOT NULL,
    subject         TEXT   NOT NULL,
    actor           TEXT   NOT NULL,
    at              BIGINT NOT NULL,
    at_offset       BIGINT NOT NULL,
    happened        BIGINT NOT NULL,
    happened_offset BIGINT NOT NULL,
    day             TEXT   NOT NULL,
    leaf            BLOB   NOT NULL,
    PRIMARY KEY (mill, seq),
    UNIQUE (mill, id)
);
CREATE INDEX entries_by_day   ON entries (mill, day, seq);
CREATE INDEX entries_by_actor ON entries (mill, actor, seq);
CREATE INDEX entries_by_kind  ON entries (mill, kind, seq);

-- Which equipment an entry is about, for filtering; derived from its body.
CREATE TABLE entry_equipment (
    mill      TEXT   NOT NULL,
    equipment TEXT   NOT NULL,
    seq       BIGINT NOT NULL,
    PRIMARY KEY (mill, equipment, seq)
);

-- Values of personal fields, whose commitments are in the leaf.
CREATE TABLE openings (
    mill  TEXT   NOT NULL,
    seq   BIGINT NOT NULL,
    path  TEXT   NOT NULL,
    salt  BLOB   NOT NULL,
    value TEXT   NOT NULL,
    PRIMARY KEY (mill, seq, path)
);

CREATE TABLE tree_hashes (
    mill  TEXT   NOT NULL,
    place BIGINT NOT NULL,
    hash  BLOB   NOT NULL,
    PRIMARY KEY (mill, place)
);

-- What was answered to each submission, so that a retry is answered alike.
CREATE TABLE submissions (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    act    TEXT   NOT NULL,
    result TEXT   NOT NULL,
    at     BIGINT NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE photos (
    mill   TEXT   NOT NULL,
    digest TEXT   NOT NULL,
    type   TEXT   NOT NULL,
    width  BIGINT NOT NULL,
    height BIGINT NOT NULL,
    at     BIGINT NOT NULL,
    bytes  BLOB   NOT NULL,
    PRIMARY KEY (mill, digest)
);
