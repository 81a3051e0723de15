-- Where nothing was written is committed to as well, and stands with its entry: the
-- paths, each on a line, and the salts in their order. What an earlier Stillsaw kept
-- of it in openings stays there.
ALTER TABLE entries ADD COLUMN blank_paths TEXT NOT NULL DEFAULT '';
ALTER TABLE entries ADD COLUMN blank_salts BLOB NOT NULL DEFAULT x'';
