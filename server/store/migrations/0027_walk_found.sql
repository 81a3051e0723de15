-- Which answers of walks under way say that something was found wrong: those hold.
ALTER TABLE walk_answers ADD COLUMN found BOOLEAN NOT NULL DEFAULT FALSE;
UPDATE walk_answers SET found = TRUE WHERE doc LIKE '%"result":"defect"%';
CREATE INDEX walk_answers_found ON walk_answers (mill, found, walk, item);
