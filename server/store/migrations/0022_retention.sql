-- For how long the mill keeps what, what is held, and what was dropped. A photo
-- whose bytes were dropped stays as a row: its digest, its size, and the entry
-- that says so.

CREATE TABLE keep_policies (
    mill TEXT   NOT NULL,
    sort TEXT   NOT NULL,
    seq  BIGINT NOT NULL,
    doc  TEXT   NOT NULL,
    PRIMARY KEY (mill, sort)
);

CREATE TABLE keep_holds (
    mill TEXT    NOT NULL,
    id   TEXT    NOT NULL,
    on_  BOOLEAN NOT NULL,
    at   BIGINT  NOT NULL,
    doc  TEXT    NOT NULL,
    PRIMARY KEY (mill, id)
);

-- Which entry dropped which personal value. It follows from those entries and is
-- believed only where they say the same.
CREATE TABLE dropped_values (
    mill  TEXT   NOT NULL,
    seq   BIGINT NOT NULL,
    path  TEXT   NOT NULL,
    entry BIGINT NOT NULL,
    PRIMARY KEY (mill, seq, path)
);

ALTER TABLE photos ADD COLUMN size BIGINT NOT NULL DEFAULT 0;
ALTER TABLE photos ADD COLUMN dropped BIGINT NOT NULL DEFAULT 0;

CREATE INDEX entries_by_subject ON entries (mill, subject, seq);
