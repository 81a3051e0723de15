-- A clock that ran ahead, and a supervisor's word that it is right again.

-- When it was last confirmed, and by which entry.
CREATE TABLE clocks (
    mill      TEXT   PRIMARY KEY,
    seq       BIGINT NOT NULL,
    confirmed BIGINT NOT NULL,
    FOREIGN KEY (mill) REFERENCES mills (id)
);

-- Inspections, amendments and run checks whose time was shown to be wrong.
CREATE TABLE misdated (
    mill TEXT NOT NULL,
    kind TEXT NOT NULL,
    id   TEXT NOT NULL,
    PRIMARY KEY (mill, kind, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);
