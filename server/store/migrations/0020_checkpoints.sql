-- Which keys sign a mill's checkpoints, and from which entry on, is a projection
-- of the record; their private parts are files beside the database and stand
-- nowhere in it. Checkpoints kept stand in no entry.

CREATE TABLE log_keys (
    mill     TEXT   NOT NULL,
    seq      BIGINT NOT NULL,
    verifier TEXT   NOT NULL,
    at       BIGINT NOT NULL,
    until    BIGINT NOT NULL,
    why      TEXT   NOT NULL,
    actor    TEXT   NOT NULL,
    reason   TEXT   NOT NULL,
    PRIMARY KEY (mill, seq)
);

CREATE TABLE checkpoints (
    mill TEXT   NOT NULL,
    size BIGINT NOT NULL,
    text TEXT   NOT NULL,
    at   BIGINT NOT NULL,
    why  TEXT   NOT NULL,
    PRIMARY KEY (mill, size, text)
);
CREATE INDEX checkpoints_by_time ON checkpoints (mill, at);
