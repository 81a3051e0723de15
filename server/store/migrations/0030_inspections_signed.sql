-- What a calendar asks of each inspection, beside its document, which holds every
-- answer. An index with all of it is read instead of the rows: columns behind a long
-- document are found by reading through it. Times as in step 29.
ALTER TABLE inspections ADD COLUMN version BIGINT NOT NULL DEFAULT 0;
ALTER TABLE inspections ADD COLUMN began BIGINT NOT NULL DEFAULT 0;
ALTER TABLE inspections ADD COLUMN late BOOLEAN NOT NULL DEFAULT FALSE;
UPDATE inspections SET
    version = coalesce(json_extract(doc, '$.version'), 0),
    late = coalesce(json_extract(doc, '$.late'), FALSE),
    began = coalesce((
        SELECT 1000 * unixepoch(substr(text, 1, 19) || zone) + CAST(substr(substr(text, 21, length(text) - 20 - length(zone)) || '000', 1, 3) AS INTEGER)
        FROM (SELECT text, CASE WHEN text LIKE '%Z' THEN 'Z' ELSE substr(text, -6) END AS zone
            FROM (SELECT json_extract(inspections.doc, '$.began') AS text))
        WHERE text NOT LIKE '0001-%'), 0);
DROP INDEX IF EXISTS inspections_by_list;
CREATE INDEX inspections_signed ON inspections (mill, list, at, late, version, began, signer, id);
