-- Inspections, what they found, and what happened against the rule.

CREATE TABLE inspections (
    mill    TEXT   NOT NULL,
    id      TEXT   NOT NULL,
    list    TEXT   NOT NULL,
    signer  TEXT   NOT NULL,
    at      BIGINT NOT NULL,
    seq     BIGINT NOT NULL,
    doc     TEXT   NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, signer) REFERENCES people (mill, id)
);
CREATE INDEX inspections_by_list ON inspections (mill, list, at);

CREATE TABLE amendments (
    mill       TEXT   NOT NULL,
    id         TEXT   NOT NULL,
    inspection TEXT   NOT NULL,
    at         BIGINT NOT NULL,
    doc        TEXT   NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, inspection) REFERENCES inspections (mill, id)
);
CREATE INDEX amendments_by_inspection ON amendments (mill, inspection, at);

-- An inspection under way: working rows, gone once it is signed.
CREATE TABLE walks (
    mill    TEXT   NOT NULL,
    id      TEXT   NOT NULL,
    list    TEXT   NOT NULL,
    version BIGINT NOT NULL,
    person  TEXT   NOT NULL,
    began   BIGINT NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);

CREATE TABLE walk_answers (
    mill TEXT NOT NULL,
    walk TEXT NOT NULL,
    item TEXT NOT NULL,
    doc  TEXT NOT NULL,
    PRIMARY KEY (mill, walk, item),
    FOREIGN KEY (mill, walk) REFERENCES walks (mill, id) ON DELETE CASCADE
);

CREATE TABLE defects (
    mill      TEXT    NOT NULL,
    id        TEXT    NOT NULL,
    equipment TEXT    NOT NULL,
    open      BOOLEAN NOT NULL,
    at        BIGINT  NOT NULL,
    doc       TEXT    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX defects_open ON defects (mill, open, at);

CREATE TABLE departures (
    mill      TEXT    NOT NULL,
    id        TEXT    NOT NULL,
    equipment TEXT    NOT NULL,
    open      BOOLEAN NOT NULL,
    at        BIGINT  NOT NULL,
    doc       TEXT    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX departures_open ON departures (mill, open, at);

CREATE TABLE run_checks (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    person TEXT   NOT NULL,
    until  BIGINT NOT NULL,
    doc    TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX run_checks_by_until ON run_checks (mill, until);
