-- Further pieces lifted on a check that was kept, and finding a hoist's defects.

CREATE TABLE lift_runs (
    mill TEXT    NOT NULL,
    id   TEXT    NOT NULL,
    lift TEXT    NOT NULL,
    go   BOOLEAN NOT NULL,
    at   BIGINT  NOT NULL,
    doc  TEXT    NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, lift) REFERENCES lifts (mill, id)
);
CREATE INDEX lift_runs_by_lift ON lift_runs (mill, lift, at);
CREATE INDEX defects_by_equipment ON defects (mill, equipment, at);
