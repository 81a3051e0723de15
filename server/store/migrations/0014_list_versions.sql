-- What each saving of a list's draft left and who saved it, until the list is
-- published; the versions that take force later than they were signed; and what
-- meters showed in signed inspections and in what was added to them.

CREATE TABLE draft_saves (
    mill     TEXT   NOT NULL,
    sort     TEXT   NOT NULL,
    id       TEXT   NOT NULL,
    revision BIGINT NOT NULL,
    person   TEXT   NOT NULL,
    at       BIGINT NOT NULL,
    doc      TEXT   NOT NULL,
    PRIMARY KEY (mill, sort, id, revision)
);

CREATE TABLE releases (
    mill      TEXT   NOT NULL,
    list      TEXT   NOT NULL,
    version   BIGINT NOT NULL,
    effective BIGINT NOT NULL,
    PRIMARY KEY (mill, list, version)
);

CREATE TABLE meter_readings (
    mill     TEXT   NOT NULL,
    source   TEXT   NOT NULL,
    item     TEXT   NOT NULL,
    meter    TEXT   NOT NULL,
    at       BIGINT NOT NULL,
    person   TEXT   NOT NULL,
    value    REAL   NOT NULL,
    replaced BIGINT NOT NULL,
    PRIMARY KEY (mill, source, item)
);

CREATE INDEX meter_readings_by_meter ON meter_readings (mill, meter, at);
