-- Who was trained on what, which lock is whose, what was inspected of a
-- procedure, firms from outside, and the mill's program.

CREATE TABLE trainings (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    person TEXT   NOT NULL,
    at     BIGINT NOT NULL,
    doc    TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX trainings_by_person ON trainings (mill, person, at);

CREATE TABLE procedure_inspections (
    mill      TEXT   NOT NULL,
    id        TEXT   NOT NULL,
    procedure TEXT   NOT NULL,
    at        BIGINT NOT NULL,
    doc       TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX procedure_inspections_by_procedure ON procedure_inspections (mill, procedure, at);

CREATE TABLE findings_seen_to (
    mill       TEXT   NOT NULL,
    inspection TEXT   NOT NULL,
    finding    BIGINT NOT NULL,
    at         BIGINT NOT NULL,
    doc        TEXT   NOT NULL,
    PRIMARY KEY (mill, inspection, finding),
    FOREIGN KEY (mill, inspection) REFERENCES procedure_inspections (mill, id)
);

CREATE TABLE lock_items (
    mill  TEXT NOT NULL,
    id    TEXT NOT NULL,
    owner TEXT NOT NULL,
    doc   TEXT NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX lock_items_by_owner ON lock_items (mill, owner);

CREATE TABLE contractors (
    mill TEXT NOT NULL,
    id   TEXT NOT NULL,
    firm TEXT NOT NULL,
    doc  TEXT NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE programs (
    mill TEXT   NOT NULL PRIMARY KEY,
    at   BIGINT NOT NULL,
    doc  TEXT   NOT NULL
);
