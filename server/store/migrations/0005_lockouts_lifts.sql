-- Lockouts as the fold of their events, and lifts as they were judged.

CREATE TABLE lockouts (
    mill      TEXT    NOT NULL,
    id        TEXT    NOT NULL,
    procedure TEXT    NOT NULL,
    open      BOOLEAN NOT NULL,
    at        BIGINT  NOT NULL,
    doc       TEXT    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX lockouts_open ON lockouts (mill, open, at);

CREATE TABLE lifts (
    mill   TEXT    NOT NULL,
    id     TEXT    NOT NULL,
    rig    TEXT    NOT NULL,
    person TEXT    NOT NULL,
    go     BOOLEAN NOT NULL,
    at     BIGINT  NOT NULL,
    doc    TEXT    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX lifts_by_time ON lifts (mill, at);
