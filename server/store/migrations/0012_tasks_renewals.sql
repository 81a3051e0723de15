-- The jobs done at the mill's equipment and how people are kept safe at them,
-- and what the author of a new version of a procedure said of the change.

CREATE TABLE tasks (
    mill  TEXT   NOT NULL,
    id    TEXT   NOT NULL,
    title TEXT   NOT NULL,
    at    BIGINT NOT NULL,
    doc   TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE renewals (
    mill      TEXT   NOT NULL,
    procedure TEXT   NOT NULL,
    version   BIGINT NOT NULL,
    doc       TEXT   NOT NULL,
    PRIMARY KEY (mill, procedure, version)
);
