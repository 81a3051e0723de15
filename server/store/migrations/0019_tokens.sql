-- Tokens of programs that read or write the mill are a projection of the record;
-- what they are known by is a secret and stands in no entry, nor does their last use.

CREATE TABLE tokens (
    mill TEXT   NOT NULL,
    id   TEXT   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT   NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE token_secrets (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    digest BLOB   NOT NULL,
    used   BIGINT NOT NULL,
    PRIMARY KEY (mill, id),
    UNIQUE (mill, digest),
    FOREIGN KEY (mill) REFERENCES mills (id)
);
