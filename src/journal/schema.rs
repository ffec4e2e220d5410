//! The tables, as forward-only migrations on `PRAGMA user_version`. A migration that has been released is never
//! changed; a new one is added behind it.

/// Marks the file as ours: the letters `QCJ1`.
pub(super) const APPLICATION_ID: i32 = 0x5143_4a31;

/// One step each, applied in order; the schema's version is how many have been applied.
pub(super) const MIGRATIONS: &[&str] = &[FRAMES_AND_STATEMENTS];

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
