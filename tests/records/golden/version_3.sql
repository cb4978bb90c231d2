-- A record of version 3 as the program of that version wrote it (sqlite3 .dump; the two pragmas stand in the file's header).
PRAGMA application_id = 1749830226;
PRAGMA user_version = 3;
BEGIN TRANSACTION;
CREATE TABLE care (
        row INTEGER PRIMARY KEY NOT NULL,
        task TEXT NOT NULL,
        day TEXT NOT NULL,
        hours REAL,
        cycles REAL,
        who TEXT NOT NULL,
        at TEXT NOT NULL
    );
INSERT INTO "care" VALUES(1,'drumlin/maintenance/weekly','2026-01-31',1000.0,50.0,'x','2026-01-31T08:00:00+00:00');
INSERT INTO "care" VALUES(2,'drumlin/maintenance/monthly','2026-02-03',NULL,NULL,'Ünal','2026-02-03T16:30:00+01:00');
INSERT INTO "care" VALUES(3,'drumlin/maintenance/weekly','2026-02-07',1041.3,NULL,'x','2026-02-07T08:00:00+00:00');
CREATE TABLE desk (one INTEGER PRIMARY KEY CHECK (one = 1), job TEXT NOT NULL REFERENCES job(id));
CREATE TABLE event (
        row INTEGER PRIMARY KEY NOT NULL,
        job TEXT NOT NULL REFERENCES job(id),
        seq INTEGER NOT NULL,
        at TEXT NOT NULL,
        who TEXT NOT NULL,
        kind TEXT NOT NULL,
        body TEXT NOT NULL, chain TEXT NOT NULL DEFAULT '',
        UNIQUE (job, seq)
    );
INSERT INTO "event" VALUES(1,'2026-11-25-1',1,'2026-11-25T08:01:00+01:00','ada','opened','{"machine":"drumlin","complaint":"table stands, mast moves","fault":"","knowledge":"ab12"}','cc94d9023155b3b4f6d5b0ee0b83437162c534da9d567c6ec00b20642234a3c1');
INSERT INTO "event" VALUES(2,'2026-11-25-1',2,'2026-11-25T08:02:00+01:00','ada','note-taken','{"text":"Grüße, ''quoted''\nsecond line"}','6e3b0eb8d92e5b138f9f9231f11a534ec643230781d6a6558a1714724c15a383');
CREATE TABLE job (id TEXT PRIMARY KEY NOT NULL);
INSERT INTO "job" VALUES('2026-11-25-1');
CREATE TABLE lease (
        job TEXT PRIMARY KEY NOT NULL REFERENCES job(id),
        session TEXT NOT NULL,
        pid INTEGER NOT NULL,
        host TEXT NOT NULL,
        beat_at TEXT NOT NULL
    );
INSERT INTO "lease" VALUES('2026-11-25-1','session-1',4001,'bench','2026-11-25T08:02:00+01:00');
CREATE TABLE seal (one INTEGER PRIMARY KEY CHECK (one = 1), rows INTEGER NOT NULL, chain TEXT NOT NULL);
INSERT INTO "seal" VALUES(1,2,'6e3b0eb8d92e5b138f9f9231f11a534ec643230781d6a6558a1714724c15a383');
CREATE TRIGGER event_kept BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'events are never removed'); END;
CREATE TRIGGER event_stays BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER care_stays BEFORE UPDATE ON care BEGIN SELECT RAISE(ABORT, 'what was done is never changed'); END;
CREATE TRIGGER care_kept BEFORE DELETE ON care BEGIN SELECT RAISE(ABORT, 'what was done is never removed'); END;
COMMIT;
