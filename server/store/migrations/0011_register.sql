-- Coast times as they were measured, and a supervisor's word on the two parts of
-- the exception that nothing kept can show.

CREATE TABLE coasts (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    energy TEXT   NOT NULL,
    at     BIGINT NOT NULL,
    doc    TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX coasts_by_energy ON coasts (mill, energy, at);

CREATE TABLE declarations (
    mill      TEXT   NOT NULL,
    equipment TEXT   NOT NULL,
    at        BIGINT NOT NULL,
    doc       TEXT   NOT NULL,
    PRIMARY KEY (mill, equipment)
);
