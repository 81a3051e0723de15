-- Words the entries are found by, derived from the entries and kept with them.
-- An entry's place is its block (seq / 1024) and its place in it. search_places
-- tells, block by block, the entries with a word; search_words in which blocks a
-- word occurs at all, which is also how rare it is. Numbers are packed: see
-- search_pack.go. Where text is not compared byte by byte, word needs such a
-- collation (PostgreSQL: COLLATE "C").
CREATE TABLE search_words (
    mill   TEXT NOT NULL,
    word   TEXT NOT NULL,
    blocks BLOB NOT NULL,
    PRIMARY KEY (mill, word)
);

CREATE TABLE search_places (
    mill   TEXT   NOT NULL,
    block  BIGINT NOT NULL,
    word   TEXT   NOT NULL,
    places BLOB   NOT NULL,
    PRIMARY KEY (mill, block, word)
);

-- Entries before this place, written by an earlier Stillsaw, have no words yet.
-- No row: all have.
CREATE TABLE search_gaps (
    mill  TEXT   PRIMARY KEY,
    below BIGINT NOT NULL
);
INSERT INTO search_gaps (mill, below) SELECT mill, size FROM log_heads WHERE size > 0;
