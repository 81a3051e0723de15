-- What is noted about a defect, and incidents with what is done after them.

CREATE TABLE defect_notes (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    defect TEXT   NOT NULL,
    at     BIGINT NOT NULL,
    doc    TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX defect_notes_by_defect ON defect_notes (mill, defect, at);

CREATE TABLE incidents (
    mill      TEXT    NOT NULL,
    id        TEXT    NOT NULL,
    equipment TEXT    NOT NULL,
    open      BOOLEAN NOT NULL,
    at        BIGINT  NOT NULL,
    doc       TEXT    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX incidents_open ON incidents (mill, open, at);

CREATE TABLE incident_actions (
    mill     TEXT    NOT NULL,
    id       TEXT    NOT NULL,
    incident TEXT    NOT NULL,
    person   TEXT    NOT NULL,
    open     BOOLEAN NOT NULL,
    at       BIGINT  NOT NULL,
    doc      TEXT    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX incident_actions_by_incident ON incident_actions (mill, incident, at);
