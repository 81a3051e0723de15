-- What happened that calls for a check, and why a check was not done in its time.

CREATE TABLE events (
    mill     TEXT   NOT NULL,
    id       TEXT   NOT NULL,
    kind     TEXT   NOT NULL,
    happened BIGINT NOT NULL,
    doc      TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX events_by_time ON events (mill, happened);

CREATE TABLE excuses (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    list   TEXT   NOT NULL,
    starts BIGINT NOT NULL,
    doc    TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX excuses_by_list ON excuses (mill, list, starts);

-- How long nobody checked anything.
CREATE INDEX inspections_by_time ON inspections (mill, at);
