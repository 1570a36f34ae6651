"""The ledger's tables, and how an older ledger becomes a newer one.

Names of scenes, levels and files are stored as bytes (UTF-8, lone surrogates kept): a name may be no text.
"""

APPLICATION_ID = 0x43454C43
"""`CELC`, in the header of the file: tells a ledger of ours from any other SQLite file."""

_FIRST = """
CREATE TABLE run (
    id       INTEGER PRIMARY KEY,
    started  TEXT NOT NULL,
    finished TEXT,                    -- NULL until every cel was looked at; such a run is taken up again
    tally    TEXT NOT NULL DEFAULT '' -- JSON: what stood at its end
) STRICT;

CREATE TABLE picture (                -- which content a file had when it was last looked at
    scene    BLOB NOT NULL,
    file     BLOB NOT NULL,
    size     INTEGER NOT NULL,
    mtime_ns INTEGER NOT NULL,
    ctime_ns INTEGER NOT NULL,
    seen_ns  INTEGER NOT NULL,        -- clock when the file was looked at
    sha256   TEXT NOT NULL,
    PRIMARY KEY (scene, file)
) STRICT, WITHOUT ROWID;
CREATE INDEX picture_by_size ON picture (size);

CREATE TABLE result (                 -- what a check found on a picture, without its scene
    id        INTEGER PRIMARY KEY,
    sha256    TEXT NOT NULL,
    ending    TEXT NOT NULL,          -- of the file's name, since a wrong one is remarked upon
    colors    TEXT NOT NULL,          -- digest of the model's colors as resolved for the cel
    settings  TEXT NOT NULL,          -- fingerprint of the thresholds
    program   TEXT NOT NULL,          -- digest of the code and the libraries that check a cel
    terms     TEXT NOT NULL,          -- JSON: the tolerances and names it was judged by
    width     INTEGER,
    height    INTEGER,
    payload   BLOB NOT NULL,
    thumbnail BLOB NOT NULL
) STRICT;
CREATE INDEX result_by_key ON result (sha256, ending, colors, settings, program);

CREATE TABLE judgement (              -- by which tolerances and names a result holds
    result INTEGER NOT NULL REFERENCES result (id) ON DELETE CASCADE,
    terms  TEXT NOT NULL,             -- digest
    PRIMARY KEY (result, terms)
) STRICT, WITHOUT ROWID;

CREATE TABLE scene (
    name    BLOB PRIMARY KEY,
    digest  TEXT NOT NULL,            -- of everything that its results were made from
    shown   TEXT NOT NULL,            -- digest of the results that its report shows
    run     INTEGER NOT NULL REFERENCES run (id),
    summary TEXT NOT NULL             -- JSON
) STRICT, WITHOUT ROWID;

CREATE TABLE fault (                  -- one fault through all runs, whatever its place in a report
    id      TEXT PRIMARY KEY,
    scene   BLOB NOT NULL,
    level   BLOB,
    drawing BLOB,
    kind    TEXT NOT NULL,
    color   TEXT NOT NULL,            -- MODEL/COLOR that it is held against, or empty
    box     TEXT NOT NULL,            -- JSON: where it was last seen, or null
    sha256  TEXT,                     -- of the picture it was last seen on
    first   INTEGER NOT NULL,         -- run in which it was first seen
    opened  INTEGER NOT NULL,         -- run in which it last came up
    mended  INTEGER                   -- run in which it was gone
) STRICT;
CREATE INDEX fault_by_scene ON fault (scene);

CREATE TABLE lesson (                 -- what a decision teaches beyond its one cel
    id      INTEGER PRIMARY KEY,
    at      TEXT NOT NULL,
    who     TEXT NOT NULL,
    scene   BLOB NOT NULL,
    kind    TEXT NOT NULL,
    teaches TEXT NOT NULL             -- JSON
) STRICT;

CREATE TABLE decision (               -- what people decided; rows are only ever added
    id      INTEGER PRIMARY KEY,
    at      TEXT NOT NULL,
    who     TEXT NOT NULL,
    deed    TEXT NOT NULL,
    scene   BLOB NOT NULL,
    level   BLOB,
    drawing BLOB,
    fault   TEXT,                     -- identity; NULL for a whole cel or scene
    sha256  TEXT,                     -- of the picture that was decided on
    send_to TEXT,
    reason  TEXT NOT NULL DEFAULT '',
    lesson  INTEGER REFERENCES lesson (id),
    revokes INTEGER REFERENCES decision (id)
) STRICT;
CREATE INDEX decision_by_scene ON decision (scene);

CREATE TRIGGER decision_stays BEFORE UPDATE ON decision
    BEGIN SELECT RAISE(ABORT, 'a decision is never changed'); END;
CREATE TRIGGER decision_is_kept BEFORE DELETE ON decision
    BEGIN SELECT RAISE(ABORT, 'a decision is never removed'); END;
CREATE TRIGGER lesson_stays BEFORE UPDATE ON lesson
    BEGIN SELECT RAISE(ABORT, 'a lesson is never changed'); END;
CREATE TRIGGER lesson_is_kept BEFORE DELETE ON lesson
    BEGIN SELECT RAISE(ABORT, 'a lesson is never removed'); END;
"""

_ADDED = """
CREATE TABLE added (                  -- faults that a person drew by hand; rows are only ever added
    id      INTEGER PRIMARY KEY,
    at      TEXT NOT NULL,
    who     TEXT NOT NULL,
    scene   BLOB NOT NULL,
    level   BLOB NOT NULL,
    drawing BLOB NOT NULL,
    sha256  TEXT NOT NULL,            -- of the picture on which it was drawn
    kind    TEXT NOT NULL,
    send_to TEXT NOT NULL,
    box     TEXT NOT NULL,            -- JSON: x, y, width, height in pixels of the picture
    text    TEXT NOT NULL
) STRICT;
CREATE INDEX added_by_scene ON added (scene);

CREATE TRIGGER added_stays BEFORE UPDATE ON added
    BEGIN SELECT RAISE(ABORT, 'what was added by hand is never changed'); END;
CREATE TRIGGER added_is_kept BEFORE DELETE ON added
    BEGIN SELECT RAISE(ABORT, 'what was added by hand is never removed'); END;
"""

_OUTLOOK = """
ALTER TABLE scene ADD COLUMN outlook TEXT NOT NULL DEFAULT '';   -- digest: how all that it is made of looked
ALTER TABLE scene ADD COLUMN sources TEXT NOT NULL DEFAULT '[]'; -- JSON: its files outside its folder
"""

STEPS: tuple[str, ...] = (_FIRST, _ADDED, _OUTLOOK)
"""Statements that bring a ledger from one schema to the next; the first makes an empty file schema 1."""

SCHEMA = len(STEPS)

PEOPLES = ("lesson", "decision", "added")
"""Tables that hold what people decided, in the order in which they refer to each other."""


def raw(name: str) -> bytes:
    """Return a name as the ledger stores it."""
    return name.encode("utf-8", "surrogatepass")


def name_of(stored: bytes) -> str:
    """Return a name from the ledger."""
    return stored.decode("utf-8", "surrogatepass")
