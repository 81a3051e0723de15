-- Equipment, and what is written down, published and in force: lists,
-- procedures and rigs, each in immutable versions. Drafts are working rows.

CREATE TABLE equipment (
    mill     TEXT   NOT NULL,
    id       TEXT   NOT NULL,
    position BIGINT NOT NULL,
    doc      TEXT   NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE publications (
    mill     TEXT   NOT NULL,
    sort     TEXT   NOT NULL,
    id       TEXT   NOT NULL,
    version  BIGINT NOT NULL,
    title    TEXT   NOT NULL,
    actor    TEXT   NOT NULL,
    at       BIGINT NOT NULL,
    doc      TEXT   NOT NULL,
    PRIMARY KEY (mill, sort, id, version),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE drafts (
    mill     TEXT   NOT NULL,
    sort     TEXT   NOT NULL,
    id       TEXT   NOT NULL,
    title    TEXT   NOT NULL,
    revision BIGINT NOT NULL,
    at       BIGINT NOT NULL,
    doc      TEXT   NOT NULL,
    PRIMARY KEY (mill, sort, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);
