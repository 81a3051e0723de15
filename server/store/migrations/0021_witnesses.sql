-- Who keeps the checkpoints of the record elsewhere, what came of it, and whose
-- record this Stillsaw is itself a witness of. None of it is a projection: places
-- and addresses stand in no entry.

CREATE TABLE witnesses (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    doc    TEXT   NOT NULL,
    size   BIGINT NOT NULL,
    root   BLOB   NOT NULL,
    sent   BIGINT NOT NULL,
    tried  BIGINT NOT NULL,
    answer TEXT   NOT NULL,
    why    TEXT   NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

-- Checkpoints with the signature of the witness that took them.
CREATE TABLE cosignatures (
    mill    TEXT   NOT NULL,
    witness TEXT   NOT NULL,
    size    BIGINT NOT NULL,
    text    TEXT   NOT NULL,
    at      BIGINT NOT NULL,
    PRIMARY KEY (mill, witness, size)
);

-- Mails of the outbox that go to a witness and to no person.
CREATE TABLE witness_mails (
    mill    TEXT NOT NULL,
    mail    TEXT NOT NULL,
    witness TEXT NOT NULL,
    PRIMARY KEY (mill, mail)
);

CREATE TABLE witness_alarms (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    about  TEXT   NOT NULL,
    closed BIGINT NOT NULL,
    doc    TEXT   NOT NULL,
    PRIMARY KEY (mill, id),
    UNIQUE (mill, about)
);

-- Records of other mills, and what was cosigned of each last.
CREATE TABLE witness_logs (
    mill       TEXT   NOT NULL,
    origin     TEXT   NOT NULL,
    doc        TEXT   NOT NULL,
    size       BIGINT NOT NULL,
    root       BLOB   NOT NULL,
    text       TEXT   NOT NULL,
    seen       BIGINT NOT NULL,
    refused    TEXT   NOT NULL,
    refused_at BIGINT NOT NULL,
    PRIMARY KEY (mill, origin),
    FOREIGN KEY (mill) REFERENCES mills (id)
);
