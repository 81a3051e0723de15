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
    mill    TEXT   NOT NULL,
    token   BLOB   NOT NULL,
    person  TEXT   NOT NULL,
    made    BIGINT NOT NULL,
    expires BIGINT NOT NULL,
    PRIMARY KEY (mill, token),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);
CREATE INDEX sessions_by_person ON sessions (mill, person);

-- Failed tries of a PIN; kind says whether who is a person or an address.
CREATE TABLE attempts (
    mill   TEXT   NOT NULL,
    kind   TEXT   NOT NULL,
    who    TEXT   NOT NULL,
    failed BIGINT NOT NULL,
    last   BIGINT NOT NULL,
    PRIMARY KEY (mill, kind, who),
    FOREIGN KEY (mill) REFERENCES mills (id)
);
