//! The tables, as forward-only migrations on `PRAGMA user_version`. A migration that has been released is never
//! changed; a new one is added behind it.

use rusqlite::Connection;

/// Marks the file as ours: the letters `QCJ1`.
pub(super) const APPLICATION_ID: i32 = 0x5143_4a31;

/// How many triggers guard frames, statements and their digests in a journal of so many migrations.
const fn guards(version: u32) -> i64 {
    if version as usize >= CHAINED {
        10
    } else if version >= GUARDED_AGAINST_REPLACING {
        7
    } else {
        4
    }
}

/// The version since which nothing can be replaced either.
const GUARDED_AGAINST_REPLACING: u32 = 8;

/// The version since which what is written is chained, see [`super::chain`].
pub(super) const CHAINED: usize = 11;

/// The version since which it is kept which monitors come by which listener, see [`super::rooms`].
pub(super) const ROOMED: usize = 19;

/// One step each, applied in order; the schema's version is how many have been applied.
pub(super) const MIGRATIONS: &[&str] = &[
    FRAMES_AND_STATEMENTS,
    DERIVED,
    FRAMES_BY_BOOT,
    SECOND_EAR,
    DELIVERIES,
    PAGE_KEYS,
    ALERTS,
    NEVER_REPLACED,
    BASIS,
    GOOD_BACKUPS,
    LINKS,
    PAGE_LINKS,
    CLINICS_KNOWN,
    CONSENTS,
    LISTENERS,
    RELEASES,
    FRAMES_HANDED_ON,
    LISTENERS_SAY,
    ROOMS,
    CLOCKS_TOLD,
    LET_GO,
    KEYS_FOR_SOME,
    RELEASE_RECORDS,
];

const FRAMES_AND_STATEMENTS: &str = "
CREATE TABLE frame (
    id             INTEGER PRIMARY KEY,
    received_us    INTEGER NOT NULL,             -- microseconds since 1970, the gateway's clock
    offset_s       INTEGER NOT NULL,             -- the gateway's offset from UTC then, for people
    boot           TEXT,                         -- the kernel's boot id and
    uptime_us      INTEGER,                      -- microseconds since that boot: a clock that nobody sets
    given_to       TEXT,                         -- whose readings the source says these are
    monitor        TEXT    NOT NULL,             -- identity address
    connection     INTEGER NOT NULL,
    characteristic TEXT    NOT NULL,             -- 2a35, or a full UUID
    value          BLOB    NOT NULL CHECK (length(value) <= 512)
) STRICT;
-- The same frame cannot be kept twice: replaying a file again adds nothing.
CREATE UNIQUE INDEX frame_once ON frame (monitor, received_us, connection, characteristic, value);
CREATE TRIGGER frame_is_never_changed BEFORE UPDATE ON frame
BEGIN SELECT RAISE (ABORT, 'frames are never changed'); END;
CREATE TRIGGER frame_is_never_deleted BEFORE DELETE ON frame
BEGIN SELECT RAISE (ABORT, 'frames are never deleted'); END;

CREATE TABLE statement (
    id        INTEGER PRIMARY KEY,
    stated_us INTEGER NOT NULL,
    body      TEXT    NOT NULL CHECK (json_valid(body) AND json_type(body, '$.kind') = 'text')
) STRICT;
CREATE TRIGGER statement_is_never_changed BEFORE UPDATE ON statement
BEGIN SELECT RAISE (ABORT, 'statements are never changed; state the opposite instead'); END;
CREATE TRIGGER statement_is_never_deleted BEFORE DELETE ON statement
BEGIN SELECT RAISE (ABORT, 'statements are never deleted; state the opposite instead'); END;

-- The gateway's wall clock held against its boot clock, so that a receipt time can be mended when a gateway that
-- booted without its own time has learnt it.
CREATE TABLE gateway_clock (
    id           INTEGER PRIMARY KEY,
    boot         TEXT    NOT NULL,
    uptime_us    INTEGER NOT NULL,
    wall_us      INTEGER NOT NULL,
    synchronized INTEGER NOT NULL CHECK (synchronized IN (0, 1))
) STRICT;

-- For people with the sqlite3 shell.
CREATE VIEW frames AS
SELECT id, strftime('%Y-%m-%d %H:%M:%S', received_us / 1000000 + offset_s, 'unixepoch') AS received_at,
       monitor, connection, characteristic, lower(hex(value)) AS value, given_to
FROM frame;
CREATE VIEW statements AS
SELECT id, strftime('%Y-%m-%d %H:%M:%SZ', stated_us / 1000000, 'unixepoch') AS stated_at,
       body ->> '$.kind' AS kind, body
FROM statement;
";

/// Everything below is a function of the tables above and can be thrown away; see [`super::settle`]. Pressures are the
/// 16 bits that the monitor sent; the views print them.
const DERIVED: &str = "
CREATE TABLE settled (
    name  TEXT PRIMARY KEY,
    value INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE connection (
    monitor    TEXT    NOT NULL,
    started_us INTEGER NOT NULL,                 -- mended receipt of its first frame
    ended_us   INTEGER NOT NULL,
    address    TEXT    NOT NULL,
    number     INTEGER NOT NULL,
    repeats    INTEGER NOT NULL,                 -- records that were heard before
    refused    INTEGER NOT NULL,                 -- measurements that cannot be read
    past       TEXT    NOT NULL,                 -- what the next connection needs of this one
    PRIMARY KEY (monitor, started_us, address, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE reading (
    row           INTEGER PRIMARY KEY,
    id            TEXT    NOT NULL UNIQUE,
    frame         INTEGER NOT NULL REFERENCES frame (id),
    monitor       TEXT    NOT NULL,
    connection_us INTEGER NOT NULL,
    received_us   INTEGER NOT NULL,
    record        BLOB    NOT NULL,              -- what names the record,
    form          TEXT    NOT NULL,              -- the characteristic it came as,
    measured      BLOB,                          -- and its values and stamp in whichever form
    person        TEXT,
    measured_us   INTEGER,
    time_source   TEXT    NOT NULL,
    precision     TEXT    NOT NULL,
    stamp         TEXT,
    correction_s  INTEGER NOT NULL,
    unit          TEXT    NOT NULL,
    systolic      INTEGER NOT NULL,
    diastolic     INTEGER NOT NULL,
    mean_arterial INTEGER NOT NULL,
    pulse_rate    INTEGER,
    user_id       INTEGER,
    status        INTEGER,
    feature       INTEGER,
    discarded     TEXT
) STRICT;
CREATE INDEX reading_by_person ON reading (person, measured_us);
CREATE INDEX reading_by_connection ON reading (monitor, connection_us);
CREATE INDEX reading_by_record ON reading (record);
CREATE INDEX reading_by_measured ON reading (measured) WHERE measured IS NOT NULL;

CREATE TABLE judgement (
    reading       INTEGER PRIMARY KEY REFERENCES reading (row),
    disposition   TEXT    NOT NULL,
    reasons       TEXT    NOT NULL,              -- words, separated by spaces
    mean_arterial INTEGER,                       -- unless there is none or it cannot be
    session       TEXT
) STRICT;

CREATE TABLE session (
    id       TEXT PRIMARY KEY,
    person   TEXT    NOT NULL,
    start_us INTEGER NOT NULL,
    end_us   INTEGER NOT NULL,
    date     TEXT    NOT NULL,
    slot     TEXT    NOT NULL,
    counted  INTEGER NOT NULL,
    wanted   INTEGER NOT NULL,
    apart    INTEGER NOT NULL,
    irregular_pulse INTEGER NOT NULL
) STRICT;
CREATE INDEX session_by_person ON session (person, start_us);

-- An SFLOAT as people read it.
CREATE VIEW pressure AS
WITH parts AS (
    SELECT row, unit, disposition, reasons, session,
           ((systolic + 2048) % 4096 - 2048) AS sm, (((systolic >> 12) + 8) % 16 - 8) AS se,
           ((diastolic + 2048) % 4096 - 2048) AS dm, (((diastolic >> 12) + 8) % 16 - 8) AS de,
           ((pulse_rate + 2048) % 4096 - 2048) AS pm, (((pulse_rate >> 12) + 8) % 16 - 8) AS pe,
           systolic IN (2046, 2047, 2048, 2049, 2050) AS no_systolic,
           diastolic IN (2046, 2047, 2048, 2049, 2050) AS no_diastolic,
           pulse_rate IN (2046, 2047, 2048, 2049, 2050) AS no_pulse
    FROM reading JOIN judgement ON judgement.reading = reading.row
)
SELECT row, unit,
       CASE WHEN no_systolic THEN NULL ELSE printf('%.*f', max(-se, 0), CASE se WHEN 1 THEN sm * 10 WHEN 0 THEN sm
            WHEN -1 THEN sm / 10.0 WHEN -2 THEN sm / 100.0 WHEN -3 THEN sm / 1000.0 END) END AS systolic,
       CASE WHEN no_diastolic THEN NULL ELSE printf('%.*f', max(-de, 0), CASE de WHEN 1 THEN dm * 10 WHEN 0 THEN dm
            WHEN -1 THEN dm / 10.0 WHEN -2 THEN dm / 100.0 WHEN -3 THEN dm / 1000.0 END) END AS diastolic,
       CASE WHEN no_pulse THEN NULL ELSE printf('%.*f', max(-pe, 0), CASE pe WHEN 1 THEN pm * 10 WHEN 0 THEN pm
            WHEN -1 THEN pm / 10.0 WHEN -2 THEN pm / 100.0 END) END AS pulse_rate,
       disposition, reasons, session
FROM parts;
CREATE VIEW readings AS
SELECT reading.id, reading.person, strftime('%Y-%m-%d %H:%M:%SZ', measured_us / 1000000, 'unixepoch') AS measured_at,
       time_source, pressure.systolic, pressure.diastolic, pressure.pulse_rate, reading.unit,
       disposition, reasons, session, monitor, frame
FROM reading JOIN pressure USING (row)
ORDER BY measured_us;
CREATE VIEW sessions AS
SELECT id, person, date, slot, strftime('%H:%M:%SZ', start_us / 1000000, 'unixepoch') AS start,
       counted, wanted
FROM session ORDER BY start_us;
";

/// Finds the frames of a boot whose wall clock was set while it ran: their receipts are mended, so that they do not
/// stand where their own receipts would put them. Frames of a file have no boot and cost nothing here.
const FRAMES_BY_BOOT: &str = "
CREATE INDEX frame_by_boot ON frame (boot, monitor, uptime_us) WHERE boot IS NOT NULL;
";

/// What the second ear hears, and where it listens. The attributes are no truth to be kept: BlueZ shows them, and what
/// it shows last counts.
const SECOND_EAR: &str = "
ALTER TABLE frame ADD COLUMN overheard INTEGER NOT NULL DEFAULT 0 CHECK (overheard IN (0, 1));
CREATE INDEX frame_overheard ON frame (id) WHERE overheard;
-- Finds the last connection number of a monitor without looking at all its frames.
CREATE INDEX frame_told ON frame (monitor, connection) WHERE NOT overheard;
DROP VIEW frames;
CREATE VIEW frames AS
SELECT id, strftime('%Y-%m-%d %H:%M:%S', received_us / 1000000 + offset_s, 'unixepoch') AS received_at,
       monitor, connection, characteristic, lower(hex(value)) AS value, given_to, overheard
FROM frame;
CREATE TABLE attribute (
    monitor        TEXT    NOT NULL,             -- identity address
    handle         INTEGER NOT NULL CHECK (handle BETWEEN 1 AND 65535),
    characteristic TEXT    NOT NULL,
    bonded         INTEGER NOT NULL CHECK (bonded IN (0, 1)),
    PRIMARY KEY (monitor, handle)
) STRICT, WITHOUT ROWID;
";

/// What was sent to a clinic and what it said: see [`super::outbox`]. Not derived, and never made anew.
const DELIVERIES: &str = "
CREATE TABLE delivery (
    clinic      TEXT    NOT NULL,                -- the server's address
    name        TEXT    NOT NULL,                -- the value of the resource's identifier
    kind        TEXT    NOT NULL,
    person      TEXT,
    offered     BLOB    NOT NULL CHECK (length(offered) = 32),
    replaces    INTEGER NOT NULL CHECK (replaces IN (0, 1)),
    confirmed   BLOB    CHECK (length(confirmed) = 32),
    server_id   TEXT,
    version     TEXT,
    status      INTEGER,
    answered_us INTEGER,
    refusal     TEXT,
    content     TEXT,
    PRIMARY KEY (clinic, name)
) STRICT, WITHOUT ROWID;
CREATE TABLE clinic (
    clinic        TEXT    PRIMARY KEY,
    last_us       INTEGER,
    failures      INTEGER NOT NULL,
    not_before_us INTEGER,
    asked         INTEGER NOT NULL CHECK (asked IN (0, 1)),
    problem       TEXT
) STRICT, WITHOUT ROWID;
";

/// What was learnt of a clinic's server, and whose each resource was when it went there. What was delivered before
/// claimed to be measured at home.
const CLINICS_KNOWN: &str = "
ALTER TABLE clinic ADD COLUMN claims TEXT;       -- the profiles that its server takes
ALTER TABLE clinic ADD COLUMN way TEXT;          -- how its server takes resources
ALTER TABLE delivery ADD COLUMN subject TEXT;    -- the clinic's reference to whose it was when it was sent
UPDATE clinic SET claims = 'self-measured' WHERE EXISTS (SELECT 1 FROM delivery
    WHERE delivery.clinic = clinic.clinic AND kind = 'Observation' AND confirmed IS NOT NULL);
";

/// Keys to the page and the sessions opened with them; of each secret only its SHA-256.
const PAGE_KEYS: &str = "
CREATE TABLE page_key (
    id           TEXT PRIMARY KEY,
    digest       BLOB    NOT NULL UNIQUE CHECK (length(digest) = 32),
    role         TEXT    NOT NULL,
    person       TEXT,
    label        TEXT    NOT NULL,
    made_us      INTEGER NOT NULL,
    until_us     INTEGER,
    withdrawn_us INTEGER
) STRICT;
CREATE TABLE page_session (
    digest   BLOB PRIMARY KEY CHECK (length(digest) = 32),
    key      TEXT    NOT NULL REFERENCES page_key (id),
    begun_us INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
-- What waits for an answer is counted on every page; a monitor's battery and last word are looked up on one.
CREATE INDEX frame_of_battery ON frame (monitor, received_us) WHERE characteristic = '2a19';
CREATE INDEX reading_undated ON reading (received_us) WHERE measured_us IS NULL;
";

/// What the derived tables rest on beside the rows above, see [`super::basis`].
const BASIS: &str = "
CREATE TABLE basis (
    name  TEXT PRIMARY KEY,                      -- code, rules, protocols, zones
    value TEXT NOT NULL                          -- its number, its version, or the SHA-256 of it
) STRICT, WITHOUT ROWID;
DELETE FROM settled WHERE name = 'derivation';
";

/// What was told to whom, see [`super::alerts`]; not derived.
const ALERTS: &str = "
CREATE TABLE alert (
    key            TEXT    NOT NULL,             -- names the matter
    route          TEXT    NOT NULL,             -- of the configuration
    standing       TEXT    NOT NULL CHECK (standing IN ('pending', 'claimed', 'sent', 'lapsed', 'dropped')),
    since_us       INTEGER NOT NULL,
    changed_us     INTEGER NOT NULL,
    tries          INTEGER NOT NULL DEFAULT 0,
    channel_failed INTEGER NOT NULL DEFAULT 0,   -- while it waited
    problem        TEXT,
    PRIMARY KEY (key, route)
) STRICT, WITHOUT ROWID;
CREATE INDEX alert_open ON alert (since_us) WHERE standing IN ('pending', 'claimed', 'lapsed');
CREATE INDEX alert_changed ON alert (changed_us);
-- Since when something is so that has to last before it is told.
CREATE TABLE watched (
    what     TEXT    PRIMARY KEY,
    since_us INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
";

/// `INSERT OR REPLACE` deletes what is in its way without asking the guards against deleting, unless a connection asks
/// for recursive triggers, which an ordinary shell does not ("REPLACE", sqlite.org/lang_conflict.html).
const NEVER_REPLACED: &str = "
CREATE TRIGGER frame_is_never_replaced BEFORE INSERT ON frame
WHEN EXISTS (SELECT 1 FROM frame WHERE id = NEW.id)
BEGIN SELECT RAISE (ABORT, 'frames are never replaced'); END;
-- The same frame once more is no fault: it is left out.
CREATE TRIGGER frame_is_kept_once BEFORE INSERT ON frame
WHEN EXISTS (SELECT 1 FROM frame
             WHERE monitor = NEW.monitor AND received_us = NEW.received_us AND connection = NEW.connection
               AND characteristic = NEW.characteristic AND value = NEW.value)
BEGIN SELECT RAISE (IGNORE); END;
CREATE TRIGGER statement_is_never_replaced BEFORE INSERT ON statement
WHEN EXISTS (SELECT 1 FROM statement WHERE id = NEW.id)
BEGIN SELECT RAISE (ABORT, 'statements are never replaced; state the opposite instead'); END;
";

/// Which backups were read back whole, see [`super::copies`]; not derived. And since when a key of a journal that was
/// put in place from a backup opens nothing until somebody confirms it.
const GOOD_BACKUPS: &str = "
CREATE TABLE good_backup (
    made_us   INTEGER PRIMARY KEY,
    file      TEXT    NOT NULL,                  -- where it was then
    encrypted INTEGER NOT NULL CHECK (encrypted IN (0, 1))
) STRICT;
ALTER TABLE page_key ADD COLUMN closed_us INTEGER;
";

/// Digests over what was written, see [`super::chain`].
const LINKS: &str = "
CREATE TABLE link (
    id     INTEGER PRIMARY KEY,
    of     TEXT    NOT NULL,                     -- the table
    first  INTEGER NOT NULL,                     -- the number of its first row
    marks  BLOB    NOT NULL,                     -- the first 8 octets of each row's SHA-256
    digest BLOB    NOT NULL CHECK (length(digest) = 32) -- over the last digest, the table, the number and the rows
) STRICT;
CREATE TRIGGER link_is_never_changed BEFORE UPDATE ON link
BEGIN SELECT RAISE (ABORT, 'digests are never changed'); END;
CREATE TRIGGER link_is_never_deleted BEFORE DELETE ON link
BEGIN SELECT RAISE (ABORT, 'digests are never deleted'); END;
CREATE TRIGGER link_is_never_replaced BEFORE INSERT ON link
WHEN EXISTS (SELECT 1 FROM link WHERE id = NEW.id)
BEGIN SELECT RAISE (ABORT, 'digests are never replaced'); END;
";

/// Links that open the page once, see [`super::keys`]; of each secret only its SHA-256.
const PAGE_LINKS: &str = "
CREATE TABLE page_link (
    digest   BLOB    PRIMARY KEY CHECK (length(digest) = 32),
    until_us INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
";

/// The codes by which monitors let us at their users' readings, see [`super::consents`]; not derived, and no
/// statements.
const CONSENTS: &str = "
CREATE TABLE consent (
    monitor  TEXT    NOT NULL,
    user     INTEGER NOT NULL,                   -- the index on the monitor; -1 where it is to register one
    code     INTEGER NOT NULL CHECK (code BETWEEN 0 AND 9999),
    given_us INTEGER NOT NULL,
    PRIMARY KEY (monitor, user)
) STRICT, WITHOUT ROWID;
";

/// Other machines that hand on what they hear, see [`super::listeners`], and to whom this one hands on, see
/// [`super::handing`]. Of each code only its SHA-256.
const LISTENERS: &str = "
CREATE TABLE listener (
    id           TEXT    PRIMARY KEY,
    slot         INTEGER NOT NULL UNIQUE CHECK (slot BETWEEN 1 AND 255), -- the range of its connection numbers
    key          BLOB    NOT NULL UNIQUE CHECK (length(key) = 32),       -- SHA-256 of its public key
    label        TEXT    NOT NULL,
    joined_us    INTEGER NOT NULL,
    withdrawn_us INTEGER,
    closed_us    INTEGER,                        -- came back with a backup, and nobody has confirmed it
    clocks       INTEGER NOT NULL DEFAULT 0,     -- the last of its clock samples that is held
    last_us      INTEGER,                        -- when it was last heard
    waiting      INTEGER,                        -- frames that it had not handed on then
    clock_known  INTEGER CHECK (clock_known IN (0, 1)),
    version      TEXT
) STRICT;
CREATE TABLE listener_code (
    digest   BLOB    PRIMARY KEY CHECK (length(digest) = 32),
    label    TEXT    NOT NULL,
    until_us INTEGER NOT NULL,
    taken_by BLOB    CHECK (length(taken_by) = 32)
) STRICT, WITHOUT ROWID;
-- Who heard a frame: the listener's own number and digest of it.
CREATE TABLE hearing (
    listener TEXT    NOT NULL REFERENCES listener (id),
    sequence INTEGER NOT NULL,
    digest   BLOB    NOT NULL CHECK (length(digest) = 32),
    frame    INTEGER NOT NULL REFERENCES frame (id),
    taken_us INTEGER NOT NULL,
    PRIMARY KEY (listener, sequence, digest)
) STRICT, WITHOUT ROWID;
CREATE INDEX hearing_of_frame ON hearing (frame);
CREATE TABLE record (
    one       INTEGER PRIMARY KEY CHECK (one = 1),
    at        TEXT    NOT NULL,                  -- its name or address, and its port
    key       BLOB    NOT NULL CHECK (length(key) = 32),
    joined_us INTEGER NOT NULL,
    through   INTEGER NOT NULL DEFAULT 0,        -- the last frame that it said it holds
    told_us   INTEGER,
    problem   TEXT
) STRICT;
";

/// Of whom it was told once that they go to a clinic without a stated release.
const RELEASES: &str = "
ALTER TABLE clinic ADD COLUMN told_unstated TEXT; -- ids of people, with blanks between
";

/// How many frames each listener has handed on. Counting the rows of `hearing` would take longer with each of them.
const FRAMES_HANDED_ON: &str = "
ALTER TABLE listener ADD COLUMN frames INTEGER NOT NULL DEFAULT 0;
UPDATE listener SET frames = (SELECT count(*) FROM hearing WHERE hearing.listener = listener.id);
";

/// What else a listener says of itself, and that one was refused for its version.
const LISTENERS_SAY: &str = "
ALTER TABLE listener ADD COLUMN disk_free INTEGER;       -- octets of its disk that were free when it was last heard
ALTER TABLE listener ADD COLUMN clock_ahead_s INTEGER;   -- by how much its clock was ahead of this machine's then
ALTER TABLE listener ADD COLUMN refused_us INTEGER;      -- when it last called and was refused for its version,
ALTER TABLE listener ADD COLUMN refused_version TEXT;    -- which was this; neither once it was understood again
";

/// Which monitors each listener has told of itself, not overheard: those that are paired there, see [`super::rooms`].
const ROOMS: &str = "
CREATE TABLE room (
    id       INTEGER PRIMARY KEY,
    listener TEXT    NOT NULL REFERENCES listener (id),
    monitor  TEXT    NOT NULL,                   -- identity address
    UNIQUE (listener, monitor)
) STRICT;
INSERT INTO room (listener, monitor)
SELECT DISTINCT hearing.listener, frame.monitor FROM hearing JOIN frame ON frame.id = hearing.frame
WHERE NOT frame.overheard;
";

/// What the record told a listener of the time, and how sure that is.
const CLOCKS_TOLD: &str = "
ALTER TABLE gateway_clock ADD COLUMN within_us INTEGER;  -- how far the time may be off that the record told over the line
ALTER TABLE listener ADD COLUMN clock_within_us INTEGER; -- the same of what it was told last, when it was last heard
";

/// What a listener does not keep for ever, see [`super::let_go`].
const LET_GO: &str = "
ALTER TABLE record ADD COLUMN keep_days INTEGER NOT NULL DEFAULT 90; -- how long frames stay that it holds
-- Up to which frame the record held everything, and when that was noted: a row a day.
CREATE TABLE held (
    through INTEGER PRIMARY KEY,
    told_us INTEGER NOT NULL
) STRICT;
CREATE TABLE let_go (
    one     INTEGER PRIMARY KEY CHECK (one = 1),
    through INTEGER NOT NULL,                    -- the last frame that left
    frames  INTEGER NOT NULL                     -- how many did
) STRICT;
DROP TRIGGER frame_is_never_deleted;
CREATE TRIGGER frame_is_never_deleted BEFORE DELETE ON frame
WHEN NOT EXISTS (SELECT 1 FROM let_go WHERE OLD.id <= through)
BEGIN SELECT RAISE (ABORT, 'frames are never deleted'); END;
";

/// Keys for several people, or for a group; `person` is where a key is for one.
const KEYS_FOR_SOME: &str = "
ALTER TABLE page_key ADD COLUMN people TEXT;             -- ids, with blanks between
ALTER TABLE page_key ADD COLUMN of_group TEXT;
";

/// What of releases a clinic's server can be told.
const RELEASE_RECORDS: &str = "
ALTER TABLE clinic ADD COLUMN records TEXT;       -- 'consent', 'provenance', both, or 'none'
";

/// Whether the tables that cannot be made again are there, and guarded.
pub(super) fn has_its_tables(db: &Connection) -> rusqlite::Result<bool> {
    let version: u32 = db.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    let (tables, guarded): (i64, i64) = db.query_row(
        "SELECT count(*) FILTER (WHERE type = 'table' AND name IN ('frame', 'statement', 'gateway_clock', 'link')),
                count(*) FILTER (WHERE type = 'trigger' AND tbl_name IN ('frame', 'statement', 'link') AND sql LIKE '%RAISE%')
         FROM sqlite_schema",
        [],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    let named = if version as usize >= CHAINED { 4 } else { 3 };
    Ok(tables == named && guarded >= guards(version))
}
