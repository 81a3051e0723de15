-- Where backups go, and what came of them. None of it is a projection: places and
-- secrets stand in no entry. What came of them is of this computer's last try, and
-- goes into no backup but a whole one.

CREATE TABLE backup_places (
    mill TEXT NOT NULL,
    id   TEXT NOT NULL,
    doc  TEXT NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE backup_secrets (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    at     BIGINT NOT NULL,
    secret TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE backup_states (
    mill TEXT NOT NULL,
    id   TEXT NOT NULL,
    doc  TEXT NOT NULL,
    PRIMARY KEY (mill, id)
);
