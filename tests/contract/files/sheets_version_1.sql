BEGIN TRANSACTION;
CREATE TABLE sheet (
  id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL, content TEXT NOT NULL,
  saved_utc_s REAL NOT NULL, deleted_utc_s REAL
) STRICT;
INSERT INTO "sheet" VALUES(1,'Tröpfchen','{"title": "größer", "charge": [{"substance": "water", "amount": "9 mL"}]}',1795674956.25,NULL);
INSERT INTO "sheet" VALUES(2,'thrown away','{}',1795674957.5,1795674960.0);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('sheet',2);
PRAGMA user_version=1;
COMMIT;
