-- The mill's emergency card is a projection. The rest here stands in no entry:
-- how mail is sent, with its secret; who gets it; what is to be sent and was; who
-- reads which calendar.

CREATE TABLE emergency_cards (
    mill TEXT   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT   NOT NULL,
    PRIMARY KEY (mill)
);

CREATE TABLE mail_settings (
    mill TEXT   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT   NOT NULL,
    PRIMARY KEY (mill),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE mail_secrets (
    mill   TEXT   NOT NULL,
    at     BIGINT NOT NULL,
    secret TEXT   NOT NULL,
    PRIMARY KEY (mill),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE mail_recipients (
    mill    TEXT   NOT NULL,
    person  TEXT   NOT NULL,
    address TEXT   NOT NULL,
    at      BIGINT NOT NULL,
    PRIMARY KEY (mill, person),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);

-- What is to be sent: once for each person and occasion.
CREATE TABLE mail_outbox (
    mill     TEXT    NOT NULL,
    id       TEXT    NOT NULL,
    person   TEXT    NOT NULL,
    occasion TEXT    NOT NULL,
    state    TEXT    NOT NULL,
    made     BIGINT  NOT NULL,
    tries    INTEGER NOT NULL,
    next     BIGINT  NOT NULL,
    sent     BIGINT  NOT NULL,
    wrong    TEXT    NOT NULL,
    subject  TEXT    NOT NULL,
    body     TEXT    NOT NULL,
    PRIMARY KEY (mill, id),
    UNIQUE (mill, person, occasion)
);
CREATE INDEX mail_outbox_by_state ON mail_outbox (mill, state, next);

-- Overdue things a person was told of by mail already.
CREATE TABLE mail_told (
    mill     TEXT NOT NULL,
    person   TEXT NOT NULL,
    reminder TEXT NOT NULL,
    PRIMARY KEY (mill, person, reminder)
);

CREATE TABLE calendars (
    mill   TEXT   NOT NULL,
    id     TEXT   NOT NULL,
    person TEXT   NOT NULL,
    digest BLOB   NOT NULL,
    author TEXT   NOT NULL,
    made   BIGINT NOT NULL,
    PRIMARY KEY (mill, id),
    UNIQUE (mill, digest),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);
