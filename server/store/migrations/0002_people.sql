-- People are a projection of the record; the other tables here are secrets and
-- stand in no entry.

CREATE TABLE people (
    mill TEXT NOT NULL,
    id   TEXT NOT NULL,
    name TEXT NOT NULL,
    doc  TEXT NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE credentials (
    mill   TEXT   NOT NULL,
    person TEXT   NOT NULL,
    digest TEXT   NOT NULL,
    since  BIGINT NOT NULL,
    PRIMARY KEY (mill, person),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);

CREATE TABLE sessions (
    token   BLOB   PRIMARY KEY,
    mill    TEXT   NOT NULL,
    person  TEXT   NOT NULL,
    made    BIGINT NOT NULL,
    expires BIGINT NOT NULL,
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);
CREATE INDEX sessions_by_person ON sessions (mill, person);

-- Failed tries of a PIN, by person and by address.
CREATE TABLE attempts (
    who     TEXT   PRIMARY KEY,
    failed  BIGINT NOT NULL,
    last    BIGINT NOT NULL
);
