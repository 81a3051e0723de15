-- What each saving of a list's draft left and who saved it, until the list is
-- published; and the versions that take force later than they were signed.

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
