-- Signatures under an upper weight below the published mean, and finding the
-- days on which a rig was lifted with.

CREATE TABLE lighter (
    mill      TEXT   NOT NULL,
    kind      TEXT   NOT NULL,
    condition TEXT   NOT NULL,
    at        BIGINT NOT NULL,
    doc       TEXT   NOT NULL,
    PRIMARY KEY (mill, kind, condition)
);
CREATE INDEX lifts_by_rig ON lifts (mill, rig, go, at);
