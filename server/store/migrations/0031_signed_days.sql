-- How many checks each person signed of each list on each local day, and how many of
-- them late, those a later confirmation of the clock has shown to be misdated left
-- out. Kept by each entry that signs one.
ALTER TABLE inspections ADD COLUMN day TEXT NOT NULL DEFAULT '';
UPDATE inspections SET day = coalesce((SELECT day FROM entries WHERE entries.mill = inspections.mill AND entries.seq = inspections.seq), '');
CREATE TABLE signed_days (
    mill   TEXT   NOT NULL,
    day    TEXT   NOT NULL,
    list   TEXT   NOT NULL,
    signer TEXT   NOT NULL,
    signed BIGINT NOT NULL,
    late   BIGINT NOT NULL,
    PRIMARY KEY (mill, day, list, signer)
) WITHOUT ROWID;
INSERT INTO signed_days (mill, day, list, signer, signed, late)
SELECT mill, day, list, signer, count(*), sum(late) FROM inspections
WHERE NOT EXISTS (SELECT 1 FROM misdated WHERE misdated.mill = inspections.mill AND misdated.kind = 'inspection' AND misdated.id = inspections.id)
GROUP BY mill, day, list, signer;
