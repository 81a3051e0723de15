-- Entries are found by the names of what they are about, too (a part of a rig, a
-- procedure and its steps), and by how they came out. The words kept so far lack
-- these: they are added from the entries, in the background.
INSERT INTO search_gaps (mill, below) SELECT mill, size FROM log_heads WHERE size > 0
ON CONFLICT (mill) DO UPDATE SET below = excluded.below;
