-- What a lockout holds and when it ended: the calendar and the record ask for that of
-- many, and a lockout with its events is long. Times of the documents are RFC 3339
-- with up to nine digits of a second, of which the column keeps three, the rest cut off.
ALTER TABLE lockouts ADD COLUMN ended BIGINT NOT NULL DEFAULT 0;
ALTER TABLE lockouts ADD COLUMN holds TEXT NOT NULL DEFAULT '[]';
UPDATE lockouts SET holds = (
    SELECT json_group_array(value) FROM (
        SELECT value FROM json_each(lockouts.doc, '$.procedure.equipment') WHERE type = 'text'
        UNION ALL
        SELECT value FROM json_each(lockouts.doc, '$.procedure.holds') WHERE type = 'text'));
UPDATE lockouts SET ended = (
    SELECT 1000 * unixepoch(substr(text, 1, 19) || zone) + CAST(substr(substr(text, 21, length(text) - 20 - length(zone)) || '000', 1, 3) AS INTEGER)
    FROM (SELECT text, CASE WHEN text LIKE '%Z' THEN 'Z' ELSE substr(text, -6) END AS zone
        FROM (SELECT json_extract(lockouts.doc, '$.ended') AS text)))
WHERE NOT open;
CREATE INDEX lockouts_held ON lockouts (mill, ended, at, holds);
