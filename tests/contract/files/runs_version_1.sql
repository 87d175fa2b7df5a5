BEGIN TRANSACTION;
CREATE TABLE ending (
  run_id INTEGER PRIMARY KEY REFERENCES run(id), ended_utc_s REAL NOT NULL
) STRICT;
INSERT INTO "ending" VALUES(1,1.79567495609405112263e+09);
CREATE TABLE entry (
  run_id INTEGER NOT NULL REFERENCES run(id), number INTEGER NOT NULL, kind TEXT NOT NULL,
  data TEXT NOT NULL, stored_utc_s REAL NOT NULL, corrects INTEGER,
  PRIMARY KEY (run_id, number),
  FOREIGN KEY (run_id, corrects) REFERENCES entry(run_id, number)
) STRICT, WITHOUT ROWID;
INSERT INTO "entry" VALUES(1,1,'note','{"text": "kept"}',1.79567495609347915642e+09,NULL);
CREATE TABLE passport (
  id INTEGER PRIMARY KEY, name TEXT NOT NULL, data TEXT NOT NULL,
  run_id INTEGER REFERENCES run(id), stored_utc_s REAL NOT NULL
) STRICT;
INSERT INTO "passport" VALUES(1,'my Vigreux','{"plates": 3.1}',1,1.79567495609377169611e+09);
CREATE TABLE reading (
  run_id INTEGER NOT NULL REFERENCES run(id), number INTEGER NOT NULL,
  stored_utc_s REAL NOT NULL,
  time_s REAL, head_K REAL, pot_K REAL, bath_K REAL, pressure_Pa REAL, distillate_m3 REAL, distillate_kg REAL, utc_s REAL,
  remark TEXT NOT NULL, origin TEXT NOT NULL, flags TEXT NOT NULL, raw TEXT NOT NULL,
  corrects INTEGER,
  PRIMARY KEY (run_id, number),
  FOREIGN KEY (run_id, corrects) REFERENCES reading(run_id, number)
) STRICT, WITHOUT ROWID;
INSERT INTO "reading" VALUES(1,1,1.79567495609267759318e+09,0.0,300.0,NULL,NULL,NULL,NULL,NULL,NULL,'','file','[]','',NULL);
INSERT INTO "reading" VALUES(1,2,1.79567495609267759318e+09,60.0,301.5,NULL,NULL,NULL,NULL,NULL,NULL,'trüb','file','["jump"]','60;28.35',NULL);
INSERT INTO "reading" VALUES(1,3,1.79567495609314489368e+09,60.0,302.0,NULL,NULL,NULL,NULL,NULL,NULL,'','file','[]','',2);
CREATE TABLE run (
  id INTEGER PRIMARY KEY, title TEXT NOT NULL, sheet TEXT NOT NULL, started_utc_s REAL NOT NULL
) STRICT;
INSERT INTO "run" VALUES(1,'an old run','title = ''old''',1.79567495609231543539e+09);
INSERT INTO "run" VALUES(2,'still open','title = ''open''',1.79567495609430503845e+09);
CREATE INDEX passport_of_item ON passport(name, id);
CREATE TRIGGER run_no_update BEFORE UPDATE ON run BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
CREATE TRIGGER run_no_delete BEFORE DELETE ON run BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
CREATE TRIGGER ending_no_update BEFORE UPDATE ON ending BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
CREATE TRIGGER ending_no_delete BEFORE DELETE ON ending BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
CREATE TRIGGER reading_no_update BEFORE UPDATE ON reading BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
CREATE TRIGGER reading_no_delete BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
CREATE TRIGGER passport_no_update BEFORE UPDATE ON passport BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
CREATE TRIGGER passport_no_delete BEFORE DELETE ON passport BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;
COMMIT;
PRAGMA user_version=1;
