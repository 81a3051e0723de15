-- Head saws with everything done to them, and safety equipment with everything
-- looked at.

CREATE TABLE blades (
    mill   TEXT NOT NULL,
    id     TEXT NOT NULL,
    serial TEXT NOT NULL,
    doc    TEXT NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE blade_acts (
    mill  TEXT   NOT NULL,
    id    TEXT   NOT NULL,
    blade TEXT   NOT NULL,
    at    BIGINT NOT NULL,
    doc   TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE INDEX blade_acts_by_blade ON blade_acts (mill, blade, at);

CREATE TABLE safety_items (
    mill  TEXT NOT NULL,
    id    TEXT NOT NULL,
    place TEXT NOT NULL,
    doc   TEXT NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE safety_checks (
    mill TEXT   NOT NULL,
    id   TEXT   NOT NULL,
    item TEXT   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE INDEX safety_checks_by_item ON safety_checks (mill, item, at);
