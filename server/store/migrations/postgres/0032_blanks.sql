-- Where nothing was written is committed to as well, and stands with its entry: the
-- paths, each on a line, and the salts in their order.
ALTER TABLE entries ADD COLUMN blank_paths TEXT COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE entries ADD COLUMN blank_salts BYTEA NOT NULL DEFAULT '';
