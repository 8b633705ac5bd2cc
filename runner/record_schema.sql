-- A batch record, version 1; docs/record.md tells what the columns hold.
-- Rows with the same n are one entry. Its row in chain is written last and closes it.
CREATE TABLE chain (
    n INTEGER PRIMARY KEY CHECK (n > 0),
    kind TEXT NOT NULL CHECK (kind IN ('batch', 'unit', 'reference', 'note')),
    before TEXT NOT NULL CHECK (length(before) = 64),
    sha256 TEXT NOT NULL CHECK (length(sha256) = 64)
) STRICT;

CREATE TABLE batch (
    n INTEGER PRIMARY KEY REFERENCES chain (n) DEFERRABLE INITIALLY DEFERRED,
    at_utc TEXT NOT NULL,
    program TEXT NOT NULL,
    operator TEXT,
    limits_sha256 TEXT NOT NULL,
    bench_sha256 TEXT,
    reason TEXT
) STRICT;

CREATE TABLE unit (
    n INTEGER PRIMARY KEY REFERENCES chain (n) DEFERRABLE INITIALLY DEFERRED,
    serial TEXT NOT NULL CHECK (length(serial) > 0),
    attempt INTEGER NOT NULL CHECK (attempt > 0),
    at_utc TEXT NOT NULL,
    operator TEXT,
    verdict TEXT NOT NULL CHECK (verdict IN ('PASS', 'FAIL', 'INCOMPLETE')),
    reason TEXT,
    instruments TEXT,
    limits_sha256 TEXT NOT NULL,
    bench_sha256 TEXT,
    UNIQUE (serial, attempt)
) STRICT;

CREATE TABLE finding (
    n INTEGER NOT NULL REFERENCES unit (n) DEFERRABLE INITIALLY DEFERRED,
    place INTEGER NOT NULL,
    limit_id TEXT NOT NULL,
    quantity TEXT NOT NULL,
    outcome TEXT NOT NULL CHECK (outcome IN ('incomplete', 'fail', 'conditional-fail',
                                             'conditional-pass', 'pass')),
    accepted INTEGER NOT NULL CHECK (accepted IN (0, 1)),
    value REAL,
    bound REAL,
    margin REAL,
    unit TEXT NOT NULL,
    frequency_hz REAL,
    bias_v REAL,
    conformance_probability REAL,
    reason TEXT,
    PRIMARY KEY (n, place)
) STRICT;

CREATE TABLE reference (
    n INTEGER PRIMARY KEY REFERENCES chain (n) DEFERRABLE INITIALLY DEFERRED,
    serial TEXT NOT NULL CHECK (length(serial) > 0),
    at_utc TEXT NOT NULL,
    operator TEXT
) STRICT;

CREATE TABLE sweep (
    n INTEGER NOT NULL REFERENCES chain (n) DEFERRABLE INITIALLY DEFERRED,
    place INTEGER NOT NULL,
    bias_v REAL NOT NULL,
    bias_current_ma REAL,
    measured INTEGER NOT NULL,
    points INTEGER NOT NULL,
    file TEXT UNIQUE,
    sha256 TEXT CHECK ((sha256 IS NULL) = (file IS NULL)),
    missing TEXT CHECK ((missing IS NULL) = (file IS NOT NULL)),
    PRIMARY KEY (n, place)
) STRICT;

CREATE TABLE note (
    n INTEGER PRIMARY KEY REFERENCES chain (n) DEFERRABLE INITIALLY DEFERRED,
    kind TEXT NOT NULL CHECK (kind IN ('remark', 'wrongly-connected', 'skipped', 'reference-good',
                                       'reference-bad', 'bench')),
    serial TEXT,
    attempt INTEGER,
    at_utc TEXT NOT NULL,
    operator TEXT,
    words TEXT NOT NULL
) STRICT;

CREATE INDEX note_serial ON note (serial, attempt, kind);

-- Nothing is ever changed or removed, and a closed entry takes no more rows.
CREATE TRIGGER chain_update BEFORE UPDATE ON chain BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER chain_delete BEFORE DELETE ON chain BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER chain_insert BEFORE INSERT ON chain WHEN NEW.n <> (SELECT coalesce(max(n), 0) + 1 FROM chain)
BEGIN SELECT RAISE(ABORT, 'an entry stands at the end of the record'); END;
CREATE TRIGGER batch_update BEFORE UPDATE ON batch BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER batch_delete BEFORE DELETE ON batch BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER batch_insert BEFORE INSERT ON batch WHEN EXISTS (SELECT 1 FROM chain WHERE n = NEW.n)
BEGIN SELECT RAISE(ABORT, 'a closed entry takes no more rows'); END;
CREATE TRIGGER unit_update BEFORE UPDATE ON unit BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER unit_delete BEFORE DELETE ON unit BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER unit_insert BEFORE INSERT ON unit WHEN EXISTS (SELECT 1 FROM chain WHERE n = NEW.n)
    OR EXISTS (SELECT 1 FROM unit WHERE serial = NEW.serial AND attempt = NEW.attempt)
BEGIN SELECT RAISE(ABORT, 'a closed entry takes no more rows, an attempt stands once'); END;
CREATE TRIGGER finding_update BEFORE UPDATE ON finding BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER finding_delete BEFORE DELETE ON finding BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER finding_insert BEFORE INSERT ON finding WHEN EXISTS (SELECT 1 FROM chain WHERE n = NEW.n)
BEGIN SELECT RAISE(ABORT, 'a closed entry takes no more rows'); END;
CREATE TRIGGER reference_update BEFORE UPDATE ON reference BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER reference_delete BEFORE DELETE ON reference BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER reference_insert BEFORE INSERT ON reference WHEN EXISTS (SELECT 1 FROM chain WHERE n = NEW.n)
BEGIN SELECT RAISE(ABORT, 'a closed entry takes no more rows'); END;
CREATE TRIGGER sweep_update BEFORE UPDATE ON sweep BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER sweep_delete BEFORE DELETE ON sweep BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER sweep_insert BEFORE INSERT ON sweep WHEN EXISTS (SELECT 1 FROM chain WHERE n = NEW.n)
    OR EXISTS (SELECT 1 FROM sweep WHERE file = NEW.file)
BEGIN SELECT RAISE(ABORT, 'a closed entry takes no more rows, a file stands once'); END;
CREATE TRIGGER note_update BEFORE UPDATE ON note BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER note_delete BEFORE DELETE ON note BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER note_insert BEFORE INSERT ON note WHEN EXISTS (SELECT 1 FROM chain WHERE n = NEW.n)
BEGIN SELECT RAISE(ABORT, 'a closed entry takes no more rows'); END;

PRAGMA application_id = 1195460946;
PRAGMA user_version = 1;
