-- What a kept lift weighed on a scale, and what was found of the gear.

CREATE TABLE weighings (
    mill TEXT   NOT NULL,
    id   TEXT   NOT NULL,
    lift TEXT   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT   NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, lift) REFERENCES lifts (mill, id)
);
CREATE INDEX weighings_by_lift ON weighings (mill, lift, at);
CREATE INDEX weighings_by_time ON weighings (mill, at);

CREATE TABLE gear_inspections (
    mill TEXT   NOT NULL,
    id   TEXT   NOT NULL,
    rig  TEXT   NOT NULL,
    link TEXT   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX gear_inspections_by_link ON gear_inspections (mill, rig, link, at);

CREATE TABLE gear_measurements (
    mill TEXT   NOT NULL,
    id   TEXT   NOT NULL,
    rig  TEXT   NOT NULL,
    link TEXT   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX gear_measurements_by_link ON gear_measurements (mill, rig, link, at);
