-- Checks finished without contact, until the walk they are of is signed.
CREATE TABLE unsigned_walks (
    mill   TEXT    NOT NULL,
    id     TEXT    NOT NULL,
    person TEXT    NOT NULL,
    at     BIGINT  NOT NULL,
    open   BOOLEAN NOT NULL,
    doc    TEXT    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX unsigned_walks_open ON unsigned_walks (mill, open, at);

-- The newest of what a phone sent of an item, by that phone's own count, and the
-- digest of what it said.
CREATE TABLE walk_saves (
    mill   TEXT   NOT NULL,
    walk   TEXT   NOT NULL,
    item   TEXT   NOT NULL,
    person TEXT   NOT NULL,
    saved  BIGINT NOT NULL,
    said   TEXT   NOT NULL,
    PRIMARY KEY (mill, walk, item, person),
    FOREIGN KEY (mill, walk) REFERENCES walks (mill, id) ON DELETE CASCADE
);

-- What phones without contact called walks that were under way already.
CREATE TABLE walk_names (
    mill TEXT NOT NULL,
    id   TEXT NOT NULL,
    walk TEXT NOT NULL,
    PRIMARY KEY (mill, id)
);

-- Lifts as they were typed without contact, until somebody looks at the answer.
CREATE TABLE lift_waits (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    person TEXT   NOT NULL,
    seen   BIGINT NOT NULL,
    at     BIGINT NOT NULL,
    doc    TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX lift_waits_by_time ON lift_waits (mill, at);
