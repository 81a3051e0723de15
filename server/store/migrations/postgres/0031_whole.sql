-- The whole schema as the steps up to 31 leave it, in PostgreSQL's words: SQLite's
-- steps from the first on have no mill there to upgrade. Texts are compared byte by
-- byte, as SQLite does, whatever the database's own order is.

CREATE TABLE migrations (
    number BIGINT PRIMARY KEY,
    name   TEXT COLLATE "C" NOT NULL
);

CREATE TABLE mills (
    id   TEXT COLLATE "C" PRIMARY KEY,
    name TEXT COLLATE "C" NOT NULL,
    doc  TEXT COLLATE "C" NOT NULL
);

CREATE TABLE log_heads (
    mill TEXT COLLATE "C"   PRIMARY KEY,
    size BIGINT NOT NULL,
    root BYTEA   NOT NULL,
    last BIGINT NOT NULL
);

CREATE TABLE entries (
    mill            TEXT COLLATE "C"   NOT NULL,
    seq             BIGINT NOT NULL,
    id              TEXT COLLATE "C"   NOT NULL,
    kind            TEXT COLLATE "C"   NOT NULL,
    version         BIGINT NOT NULL,
    subject         TEXT COLLATE "C"   NOT NULL,
    actor           TEXT COLLATE "C"   NOT NULL,
    at              BIGINT NOT NULL,
    at_offset       BIGINT NOT NULL,
    happened        BIGINT NOT NULL,
    happened_offset BIGINT NOT NULL,
    day             TEXT COLLATE "C"   NOT NULL,
    leaf            BYTEA   NOT NULL,
    PRIMARY KEY (mill, seq),
    UNIQUE (mill, id)
);
CREATE INDEX entries_by_day   ON entries (mill, day, seq);
CREATE INDEX entries_by_actor ON entries (mill, actor, seq);
CREATE INDEX entries_by_kind  ON entries (mill, kind, seq);

CREATE TABLE entry_equipment (
    mill      TEXT COLLATE "C"   NOT NULL,
    equipment TEXT COLLATE "C"   NOT NULL,
    seq       BIGINT NOT NULL,
    PRIMARY KEY (mill, equipment, seq)
);

CREATE TABLE openings (
    mill  TEXT COLLATE "C"   NOT NULL,
    seq   BIGINT NOT NULL,
    path  TEXT COLLATE "C"   NOT NULL,
    salt  BYTEA   NOT NULL,
    value TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, seq, path)
);

CREATE TABLE tree_hashes (
    mill  TEXT COLLATE "C"   NOT NULL,
    place BIGINT NOT NULL,
    hash  BYTEA   NOT NULL,
    PRIMARY KEY (mill, place)
);

CREATE TABLE submissions (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    act    TEXT COLLATE "C"   NOT NULL,
    result TEXT COLLATE "C"   NOT NULL,
    at     BIGINT NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE photos (
    mill   TEXT COLLATE "C"   NOT NULL,
    digest TEXT COLLATE "C"   NOT NULL,
    type   TEXT COLLATE "C"   NOT NULL,
    width  BIGINT NOT NULL,
    height BIGINT NOT NULL,
    at     BIGINT NOT NULL,
    bytes  BYTEA   NOT NULL,
    size BIGINT NOT NULL DEFAULT 0,
    dropped BIGINT NOT NULL DEFAULT 0,
    PRIMARY KEY (mill, digest)
);

CREATE TABLE people (
    mill TEXT COLLATE "C" NOT NULL,
    id   TEXT COLLATE "C" NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    doc  TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE credentials (
    mill   TEXT COLLATE "C"   NOT NULL,
    person TEXT COLLATE "C"   NOT NULL,
    digest TEXT COLLATE "C"   NOT NULL,
    since  BIGINT NOT NULL,
    PRIMARY KEY (mill, person),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);

CREATE TABLE sessions (
    mill    TEXT COLLATE "C"   NOT NULL,
    token   BYTEA   NOT NULL,
    person  TEXT COLLATE "C"   NOT NULL,
    made    BIGINT NOT NULL,
    expires BIGINT NOT NULL,
    PRIMARY KEY (mill, token),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);
CREATE INDEX sessions_by_person ON sessions (mill, person);

CREATE TABLE attempts (
    mill   TEXT COLLATE "C"   NOT NULL,
    kind   TEXT COLLATE "C"   NOT NULL,
    who    TEXT COLLATE "C"   NOT NULL,
    failed BIGINT NOT NULL,
    last   BIGINT NOT NULL,
    PRIMARY KEY (mill, kind, who),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE equipment (
    mill     TEXT COLLATE "C"   NOT NULL,
    id       TEXT COLLATE "C"   NOT NULL,
    position BIGINT NOT NULL,
    doc      TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE publications (
    mill     TEXT COLLATE "C"   NOT NULL,
    sort     TEXT COLLATE "C"   NOT NULL,
    id       TEXT COLLATE "C"   NOT NULL,
    version  BIGINT NOT NULL,
    title    TEXT COLLATE "C"   NOT NULL,
    actor    TEXT COLLATE "C"   NOT NULL,
    at       BIGINT NOT NULL,
    doc      TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, sort, id, version),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE drafts (
    mill     TEXT COLLATE "C"   NOT NULL,
    sort     TEXT COLLATE "C"   NOT NULL,
    id       TEXT COLLATE "C"   NOT NULL,
    title    TEXT COLLATE "C"   NOT NULL,
    revision BIGINT NOT NULL,
    at       BIGINT NOT NULL,
    doc      TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, sort, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE inspections (
    mill    TEXT COLLATE "C"   NOT NULL,
    id      TEXT COLLATE "C"   NOT NULL,
    list    TEXT COLLATE "C"   NOT NULL,
    signer  TEXT COLLATE "C"   NOT NULL,
    at      BIGINT NOT NULL,
    seq     BIGINT NOT NULL,
    doc     TEXT COLLATE "C"   NOT NULL,
    version BIGINT NOT NULL DEFAULT 0,
    began BIGINT NOT NULL DEFAULT 0,
    late BOOLEAN NOT NULL DEFAULT FALSE,
    day TEXT COLLATE "C" NOT NULL DEFAULT '',
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, signer) REFERENCES people (mill, id)
);

CREATE TABLE amendments (
    mill       TEXT COLLATE "C"   NOT NULL,
    id         TEXT COLLATE "C"   NOT NULL,
    inspection TEXT COLLATE "C"   NOT NULL,
    at         BIGINT NOT NULL,
    doc        TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, inspection) REFERENCES inspections (mill, id)
);
CREATE INDEX amendments_by_inspection ON amendments (mill, inspection, at);

CREATE TABLE walks (
    mill    TEXT COLLATE "C"   NOT NULL,
    id      TEXT COLLATE "C"   NOT NULL,
    list    TEXT COLLATE "C"   NOT NULL,
    version BIGINT NOT NULL,
    person  TEXT COLLATE "C"   NOT NULL,
    began   BIGINT NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);

CREATE TABLE walk_answers (
    mill TEXT COLLATE "C" NOT NULL,
    walk TEXT COLLATE "C" NOT NULL,
    item TEXT COLLATE "C" NOT NULL,
    doc  TEXT COLLATE "C" NOT NULL,
    found BOOLEAN NOT NULL DEFAULT FALSE,
    PRIMARY KEY (mill, walk, item),
    FOREIGN KEY (mill, walk) REFERENCES walks (mill, id) ON DELETE CASCADE
);

CREATE TABLE defects (
    mill      TEXT COLLATE "C"    NOT NULL,
    id        TEXT COLLATE "C"    NOT NULL,
    equipment TEXT COLLATE "C"    NOT NULL,
    open      BOOLEAN NOT NULL,
    at        BIGINT  NOT NULL,
    doc       TEXT COLLATE "C"    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX defects_open ON defects (mill, open, at);

CREATE TABLE departures (
    mill      TEXT COLLATE "C"    NOT NULL,
    id        TEXT COLLATE "C"    NOT NULL,
    equipment TEXT COLLATE "C"    NOT NULL,
    open      BOOLEAN NOT NULL,
    at        BIGINT  NOT NULL,
    doc       TEXT COLLATE "C"    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX departures_open ON departures (mill, open, at);

CREATE TABLE run_checks (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    person TEXT COLLATE "C"   NOT NULL,
    until  BIGINT NOT NULL,
    doc    TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX run_checks_by_until ON run_checks (mill, until);

CREATE TABLE lockouts (
    mill      TEXT COLLATE "C"    NOT NULL,
    id        TEXT COLLATE "C"    NOT NULL,
    procedure TEXT COLLATE "C"    NOT NULL,
    open      BOOLEAN NOT NULL,
    at        BIGINT  NOT NULL,
    doc       TEXT COLLATE "C"    NOT NULL,
    ended BIGINT NOT NULL DEFAULT 0,
    holds TEXT COLLATE "C" NOT NULL DEFAULT '[]',
    PRIMARY KEY (mill, id)
);
CREATE INDEX lockouts_open ON lockouts (mill, open, at);

CREATE TABLE lifts (
    mill   TEXT COLLATE "C"    NOT NULL,
    id     TEXT COLLATE "C"    NOT NULL,
    rig    TEXT COLLATE "C"    NOT NULL,
    person TEXT COLLATE "C"    NOT NULL,
    go     BOOLEAN NOT NULL,
    at     BIGINT  NOT NULL,
    doc    TEXT COLLATE "C"    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX lifts_by_time ON lifts (mill, at);

CREATE TABLE clocks (
    mill      TEXT COLLATE "C"   PRIMARY KEY,
    seq       BIGINT NOT NULL,
    confirmed BIGINT NOT NULL,
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE misdated (
    mill TEXT COLLATE "C" NOT NULL,
    kind TEXT COLLATE "C" NOT NULL,
    id   TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, kind, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE weighings (
    mill TEXT COLLATE "C"   NOT NULL,
    id   TEXT COLLATE "C"   NOT NULL,
    lift TEXT COLLATE "C"   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, lift) REFERENCES lifts (mill, id)
);
CREATE INDEX weighings_by_lift ON weighings (mill, lift, at);
CREATE INDEX weighings_by_time ON weighings (mill, at);

CREATE TABLE gear_inspections (
    mill TEXT COLLATE "C"   NOT NULL,
    id   TEXT COLLATE "C"   NOT NULL,
    rig  TEXT COLLATE "C"   NOT NULL,
    link TEXT COLLATE "C"   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX gear_inspections_by_link ON gear_inspections (mill, rig, link, at);

CREATE TABLE gear_measurements (
    mill TEXT COLLATE "C"   NOT NULL,
    id   TEXT COLLATE "C"   NOT NULL,
    rig  TEXT COLLATE "C"   NOT NULL,
    link TEXT COLLATE "C"   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX gear_measurements_by_link ON gear_measurements (mill, rig, link, at);

CREATE TABLE lift_runs (
    mill TEXT COLLATE "C"    NOT NULL,
    id   TEXT COLLATE "C"    NOT NULL,
    lift TEXT COLLATE "C"    NOT NULL,
    go   BOOLEAN NOT NULL,
    at   BIGINT  NOT NULL,
    doc  TEXT COLLATE "C"    NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill, lift) REFERENCES lifts (mill, id)
);
CREATE INDEX lift_runs_by_lift ON lift_runs (mill, lift, at);
CREATE INDEX defects_by_equipment ON defects (mill, equipment, at);

CREATE TABLE lighter (
    mill      TEXT COLLATE "C"   NOT NULL,
    kind      TEXT COLLATE "C"   NOT NULL,
    condition TEXT COLLATE "C"   NOT NULL,
    at        BIGINT NOT NULL,
    doc       TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, kind, condition)
);
CREATE INDEX lifts_by_rig ON lifts (mill, rig, go, at);

CREATE TABLE trainings (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    person TEXT COLLATE "C"   NOT NULL,
    at     BIGINT NOT NULL,
    doc    TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX trainings_by_person ON trainings (mill, person, at);

CREATE TABLE procedure_inspections (
    mill      TEXT COLLATE "C"   NOT NULL,
    id        TEXT COLLATE "C"   NOT NULL,
    procedure TEXT COLLATE "C"   NOT NULL,
    at        BIGINT NOT NULL,
    doc       TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX procedure_inspections_by_procedure ON procedure_inspections (mill, procedure, at);

CREATE TABLE findings_seen_to (
    mill       TEXT COLLATE "C"   NOT NULL,
    inspection TEXT COLLATE "C"   NOT NULL,
    finding    BIGINT NOT NULL,
    at         BIGINT NOT NULL,
    doc        TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, inspection, finding),
    FOREIGN KEY (mill, inspection) REFERENCES procedure_inspections (mill, id)
);

CREATE TABLE lock_items (
    mill  TEXT COLLATE "C" NOT NULL,
    id    TEXT COLLATE "C" NOT NULL,
    owner TEXT COLLATE "C" NOT NULL,
    doc   TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX lock_items_by_owner ON lock_items (mill, owner);

CREATE TABLE contractors (
    mill TEXT COLLATE "C" NOT NULL,
    id   TEXT COLLATE "C" NOT NULL,
    firm TEXT COLLATE "C" NOT NULL,
    doc  TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE programs (
    mill TEXT COLLATE "C"   NOT NULL PRIMARY KEY,
    at   BIGINT NOT NULL,
    doc  TEXT COLLATE "C"   NOT NULL
);

CREATE TABLE coasts (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    energy TEXT COLLATE "C"   NOT NULL,
    at     BIGINT NOT NULL,
    doc    TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX coasts_by_energy ON coasts (mill, energy, at);

CREATE TABLE declarations (
    mill      TEXT COLLATE "C"   NOT NULL,
    equipment TEXT COLLATE "C"   NOT NULL,
    at        BIGINT NOT NULL,
    doc       TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, equipment)
);

CREATE TABLE tasks (
    mill  TEXT COLLATE "C"   NOT NULL,
    id    TEXT COLLATE "C"   NOT NULL,
    title TEXT COLLATE "C"   NOT NULL,
    at    BIGINT NOT NULL,
    doc   TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE renewals (
    mill      TEXT COLLATE "C"   NOT NULL,
    procedure TEXT COLLATE "C"   NOT NULL,
    version   BIGINT NOT NULL,
    doc       TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, procedure, version)
);
CREATE INDEX lockouts_by_procedure ON lockouts (mill, procedure, at);

CREATE TABLE draft_saves (
    mill     TEXT COLLATE "C"   NOT NULL,
    sort     TEXT COLLATE "C"   NOT NULL,
    id       TEXT COLLATE "C"   NOT NULL,
    revision BIGINT NOT NULL,
    person   TEXT COLLATE "C"   NOT NULL,
    at       BIGINT NOT NULL,
    doc      TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, sort, id, revision)
);

CREATE TABLE releases (
    mill      TEXT COLLATE "C"   NOT NULL,
    list      TEXT COLLATE "C"   NOT NULL,
    version   BIGINT NOT NULL,
    effective BIGINT NOT NULL,
    PRIMARY KEY (mill, list, version)
);

CREATE TABLE meter_readings (
    mill     TEXT COLLATE "C"   NOT NULL,
    source   TEXT COLLATE "C"   NOT NULL,
    item     TEXT COLLATE "C"   NOT NULL,
    meter    TEXT COLLATE "C"   NOT NULL,
    at       BIGINT NOT NULL,
    person   TEXT COLLATE "C"   NOT NULL,
    value    DOUBLE PRECISION   NOT NULL,
    replaced BOOLEAN NOT NULL,
    PRIMARY KEY (mill, source, item)
);
CREATE INDEX meter_readings_by_meter ON meter_readings (mill, meter, at);

CREATE TABLE events (
    mill     TEXT COLLATE "C"   NOT NULL,
    id       TEXT COLLATE "C"   NOT NULL,
    kind     TEXT COLLATE "C"   NOT NULL,
    happened BIGINT NOT NULL,
    doc      TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX events_by_time ON events (mill, happened);

CREATE TABLE excuses (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    list   TEXT COLLATE "C"   NOT NULL,
    starts BIGINT NOT NULL,
    doc    TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX excuses_by_list ON excuses (mill, list, starts);
CREATE INDEX inspections_by_time ON inspections (mill, at);

CREATE TABLE defect_notes (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    defect TEXT COLLATE "C"   NOT NULL,
    at     BIGINT NOT NULL,
    doc    TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX defect_notes_by_defect ON defect_notes (mill, defect, at);

CREATE TABLE incidents (
    mill      TEXT COLLATE "C"    NOT NULL,
    id        TEXT COLLATE "C"    NOT NULL,
    equipment TEXT COLLATE "C"    NOT NULL,
    open      BOOLEAN NOT NULL,
    at        BIGINT  NOT NULL,
    doc       TEXT COLLATE "C"    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX incidents_open ON incidents (mill, open, at);

CREATE TABLE incident_actions (
    mill     TEXT COLLATE "C"    NOT NULL,
    id       TEXT COLLATE "C"    NOT NULL,
    incident TEXT COLLATE "C"    NOT NULL,
    person   TEXT COLLATE "C"    NOT NULL,
    open     BOOLEAN NOT NULL,
    at       BIGINT  NOT NULL,
    doc      TEXT COLLATE "C"    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX incident_actions_by_incident ON incident_actions (mill, incident, at);

CREATE TABLE blades (
    mill   TEXT COLLATE "C" NOT NULL,
    id     TEXT COLLATE "C" NOT NULL,
    serial TEXT COLLATE "C" NOT NULL,
    doc    TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE blade_acts (
    mill  TEXT COLLATE "C"   NOT NULL,
    id    TEXT COLLATE "C"   NOT NULL,
    blade TEXT COLLATE "C"   NOT NULL,
    at    BIGINT NOT NULL,
    doc   TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX blade_acts_by_blade ON blade_acts (mill, blade, at);

CREATE TABLE safety_items (
    mill  TEXT COLLATE "C" NOT NULL,
    id    TEXT COLLATE "C" NOT NULL,
    place TEXT COLLATE "C" NOT NULL,
    doc   TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE safety_checks (
    mill TEXT COLLATE "C"   NOT NULL,
    id   TEXT COLLATE "C"   NOT NULL,
    item TEXT COLLATE "C"   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX safety_checks_by_item ON safety_checks (mill, item, at);

CREATE TABLE emergency_cards (
    mill TEXT COLLATE "C"   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill)
);

CREATE TABLE mail_settings (
    mill TEXT COLLATE "C"   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE mail_secrets (
    mill   TEXT COLLATE "C"   NOT NULL,
    at     BIGINT NOT NULL,
    secret TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE mail_recipients (
    mill    TEXT COLLATE "C"   NOT NULL,
    person  TEXT COLLATE "C"   NOT NULL,
    address TEXT COLLATE "C"   NOT NULL,
    at      BIGINT NOT NULL,
    PRIMARY KEY (mill, person),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);

CREATE TABLE mail_outbox (
    mill     TEXT COLLATE "C"    NOT NULL,
    id       TEXT COLLATE "C"    NOT NULL,
    person   TEXT COLLATE "C"    NOT NULL,
    occasion TEXT COLLATE "C"    NOT NULL,
    state    TEXT COLLATE "C"    NOT NULL,
    made     BIGINT  NOT NULL,
    tries    BIGINT NOT NULL,
    next     BIGINT  NOT NULL,
    sent     BIGINT  NOT NULL,
    wrong    TEXT COLLATE "C"    NOT NULL,
    subject  TEXT COLLATE "C"    NOT NULL,
    body     TEXT COLLATE "C"    NOT NULL,
    PRIMARY KEY (mill, id),
    UNIQUE (mill, person, occasion)
);
CREATE INDEX mail_outbox_by_state ON mail_outbox (mill, state, next);

CREATE TABLE mail_told (
    mill     TEXT COLLATE "C" NOT NULL,
    person   TEXT COLLATE "C" NOT NULL,
    reminder TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, person, reminder)
);

CREATE TABLE calendars (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    person TEXT COLLATE "C"   NOT NULL,
    digest BYTEA   NOT NULL,
    author TEXT COLLATE "C"   NOT NULL,
    made   BIGINT NOT NULL,
    PRIMARY KEY (mill, id),
    UNIQUE (mill, digest),
    FOREIGN KEY (mill, person) REFERENCES people (mill, id)
);

CREATE TABLE tokens (
    mill TEXT COLLATE "C"   NOT NULL,
    id   TEXT COLLATE "C"   NOT NULL,
    at   BIGINT NOT NULL,
    doc  TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE token_secrets (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    digest BYTEA   NOT NULL,
    used   BIGINT NOT NULL,
    PRIMARY KEY (mill, id),
    UNIQUE (mill, digest),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE log_keys (
    mill     TEXT COLLATE "C"   NOT NULL,
    seq      BIGINT NOT NULL,
    verifier TEXT COLLATE "C"   NOT NULL,
    at       BIGINT NOT NULL,
    until    BIGINT NOT NULL,
    why      TEXT COLLATE "C"   NOT NULL,
    actor    TEXT COLLATE "C"   NOT NULL,
    reason   TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, seq)
);

CREATE TABLE checkpoints (
    mill TEXT COLLATE "C"   NOT NULL,
    size BIGINT NOT NULL,
    text TEXT COLLATE "C"   NOT NULL,
    at   BIGINT NOT NULL,
    why  TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, size, text)
);
CREATE INDEX checkpoints_by_time ON checkpoints (mill, at);

CREATE TABLE witnesses (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    doc    TEXT COLLATE "C"   NOT NULL,
    size   BIGINT NOT NULL,
    root   BYTEA   NOT NULL,
    sent   BIGINT NOT NULL,
    tried  BIGINT NOT NULL,
    answer TEXT COLLATE "C"   NOT NULL,
    why    TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE cosignatures (
    mill    TEXT COLLATE "C"   NOT NULL,
    witness TEXT COLLATE "C"   NOT NULL,
    size    BIGINT NOT NULL,
    text    TEXT COLLATE "C"   NOT NULL,
    at      BIGINT NOT NULL,
    PRIMARY KEY (mill, witness, size)
);

CREATE TABLE witness_mails (
    mill    TEXT COLLATE "C" NOT NULL,
    mail    TEXT COLLATE "C" NOT NULL,
    witness TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, mail)
);

CREATE TABLE witness_alarms (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    about  TEXT COLLATE "C"   NOT NULL,
    closed BIGINT NOT NULL,
    doc    TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id),
    UNIQUE (mill, about)
);

CREATE TABLE witness_logs (
    mill       TEXT COLLATE "C"   NOT NULL,
    origin     TEXT COLLATE "C"   NOT NULL,
    doc        TEXT COLLATE "C"   NOT NULL,
    size       BIGINT NOT NULL,
    root       BYTEA   NOT NULL,
    text       TEXT COLLATE "C"   NOT NULL,
    seen       BIGINT NOT NULL,
    refused    TEXT COLLATE "C"   NOT NULL,
    refused_at BIGINT NOT NULL,
    PRIMARY KEY (mill, origin),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE keep_policies (
    mill TEXT COLLATE "C"   NOT NULL,
    sort TEXT COLLATE "C"   NOT NULL,
    seq  BIGINT NOT NULL,
    doc  TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, sort)
);

CREATE TABLE keep_holds (
    mill TEXT COLLATE "C"    NOT NULL,
    id   TEXT COLLATE "C"    NOT NULL,
    on_  BOOLEAN NOT NULL,
    at   BIGINT  NOT NULL,
    doc  TEXT COLLATE "C"    NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE dropped_values (
    mill  TEXT COLLATE "C"   NOT NULL,
    seq   BIGINT NOT NULL,
    path  TEXT COLLATE "C"   NOT NULL,
    entry BIGINT NOT NULL,
    PRIMARY KEY (mill, seq, path)
);
CREATE INDEX entries_by_subject ON entries (mill, subject, seq);

CREATE TABLE search_words (
    mill   TEXT COLLATE "C" NOT NULL,
    word   TEXT COLLATE "C" NOT NULL,
    blocks BYTEA NOT NULL,
    PRIMARY KEY (mill, word)
);

CREATE TABLE search_places (
    mill   TEXT COLLATE "C"   NOT NULL,
    block  BIGINT NOT NULL,
    word   TEXT COLLATE "C"   NOT NULL,
    places BYTEA   NOT NULL,
    PRIMARY KEY (mill, block, word)
);

CREATE TABLE search_gaps (
    mill  TEXT COLLATE "C"   PRIMARY KEY,
    below BIGINT NOT NULL
);

CREATE TABLE unsigned_walks (
    mill   TEXT COLLATE "C"    NOT NULL,
    id     TEXT COLLATE "C"    NOT NULL,
    person TEXT COLLATE "C"    NOT NULL,
    at     BIGINT  NOT NULL,
    open   BOOLEAN NOT NULL,
    doc    TEXT COLLATE "C"    NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX unsigned_walks_open ON unsigned_walks (mill, open, at);

CREATE TABLE walk_saves (
    mill   TEXT COLLATE "C"   NOT NULL,
    walk   TEXT COLLATE "C"   NOT NULL,
    item   TEXT COLLATE "C"   NOT NULL,
    person TEXT COLLATE "C"   NOT NULL,
    saved  BIGINT NOT NULL,
    said   TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, walk, item, person),
    FOREIGN KEY (mill, walk) REFERENCES walks (mill, id) ON DELETE CASCADE
);

CREATE TABLE walk_names (
    mill TEXT COLLATE "C" NOT NULL,
    id   TEXT COLLATE "C" NOT NULL,
    walk TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE lift_waits (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    person TEXT COLLATE "C"   NOT NULL,
    seen   BIGINT NOT NULL,
    at     BIGINT NOT NULL,
    doc    TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX lift_waits_by_time ON lift_waits (mill, at);

CREATE TABLE settings (
    mill     TEXT COLLATE "C"   NOT NULL,
    person   TEXT COLLATE "C"   NOT NULL,
    language TEXT COLLATE "C"   NOT NULL,
    units    TEXT COLLATE "C"   NOT NULL,
    mark     TEXT COLLATE "C"   NOT NULL,
    scheme   TEXT COLLATE "C"   NOT NULL,
    size     TEXT COLLATE "C"   NOT NULL,
    changed  BIGINT NOT NULL,
    PRIMARY KEY (mill, person)
);
CREATE INDEX walk_answers_found ON walk_answers (mill, found, walk, item);

CREATE TABLE backup_places (
    mill TEXT COLLATE "C" NOT NULL,
    id   TEXT COLLATE "C" NOT NULL,
    doc  TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, id),
    FOREIGN KEY (mill) REFERENCES mills (id)
);

CREATE TABLE backup_secrets (
    mill   TEXT COLLATE "C"   NOT NULL,
    id     TEXT COLLATE "C"   NOT NULL,
    at     BIGINT NOT NULL,
    secret TEXT COLLATE "C"   NOT NULL,
    PRIMARY KEY (mill, id)
);

CREATE TABLE backup_states (
    mill TEXT COLLATE "C" NOT NULL,
    id   TEXT COLLATE "C" NOT NULL,
    doc  TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (mill, id)
);
CREATE INDEX lockouts_held ON lockouts (mill, ended, at, holds);
CREATE INDEX inspections_signed ON inspections (mill, list, at, late, version, began, signer, id);

CREATE TABLE signed_days (
    mill   TEXT COLLATE "C"   NOT NULL,
    day    TEXT COLLATE "C"   NOT NULL,
    list   TEXT COLLATE "C"   NOT NULL,
    signer TEXT COLLATE "C"   NOT NULL,
    signed BIGINT NOT NULL,
    late   BIGINT NOT NULL,
    PRIMARY KEY (mill, day, list, signer)
);

-- Who has which mill here: by what name its people reach it, and which process holds
-- it now, at which address, for the how-manieth time a process does. The code lets the
-- first supervisor set the mill up and is worth nothing after. No row of a mill's own
-- tables stands here.
CREATE TABLE tenants (
    id      TEXT COLLATE "C" PRIMARY KEY,
    host    TEXT COLLATE "C" NOT NULL UNIQUE,
    made    BIGINT NOT NULL,
    code    TEXT COLLATE "C" NOT NULL DEFAULT '',
    holder  TEXT COLLATE "C" NOT NULL DEFAULT '',
    address TEXT COLLATE "C" NOT NULL DEFAULT '',
    term    BIGINT NOT NULL DEFAULT 0
);

-- How each mill stood when its process last reckoned it, for the page across mills:
-- numbers and words of the program. It is a table of its own, since every commit of a
-- mill keeps its row of tenants from being changed.
CREATE TABLE group_standings (
    tenant   TEXT COLLATE "C" PRIMARY KEY REFERENCES tenants (id) ON DELETE CASCADE,
    standing TEXT COLLATE "C" NOT NULL,
    at       BIGINT NOT NULL
);

-- Who may read the page across mills; key is the name in small letters. They are
-- people of no mill, and no session of theirs is one at a mill.
CREATE TABLE group_readers (
    key    TEXT COLLATE "C" PRIMARY KEY,
    name   TEXT COLLATE "C" NOT NULL,
    digest TEXT COLLATE "C" NOT NULL,
    made   BIGINT NOT NULL
);

CREATE TABLE group_sessions (
    token   BYTEA PRIMARY KEY,
    reader  TEXT COLLATE "C" NOT NULL REFERENCES group_readers (key) ON DELETE CASCADE,
    expires BIGINT NOT NULL
);
CREATE INDEX group_sessions_reader ON group_sessions (reader);
