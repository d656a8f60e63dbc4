PRAGMA application_id = 1400140404;
PRAGMA user_version = 2;
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE migration (
        version INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        applied_at TEXT NOT NULL,
        program TEXT NOT NULL
    ) STRICT
    ;
INSERT INTO migration VALUES(1,'m001_heads_and_entries','2026-11-28T19:25:34.066Z','0.1.0');
INSERT INTO migration VALUES(2,'m002_outcomes','2026-11-28T19:25:34.087Z','0.1.0');
CREATE TABLE head (
        uid TEXT NOT NULL PRIMARY KEY CHECK (length(uid) = 16),
        name TEXT NOT NULL UNIQUE CHECK (name <> ''),
        given TEXT NOT NULL CHECK (given <> ''),
        opened_at TEXT NOT NULL
    ) STRICT
    ;
INSERT INTO head VALUES('0255af1a7a101f11','pump-four','pump-four','2026-03-01T09:01:00.000Z');
INSERT INTO head VALUES('5244a7c10a1b6f4a','saw-six','saw-six','2026-03-01T09:05:00.000Z');
CREATE TABLE entry (
        number INTEGER PRIMARY KEY AUTOINCREMENT CHECK (number >= 1),
        head TEXT NOT NULL REFERENCES head (uid),
        kind TEXT NOT NULL CHECK (kind <> ''),
        schema INTEGER NOT NULL CHECK (schema >= 1),
        at TEXT NOT NULL,
        clock_back INTEGER NOT NULL CHECK (clock_back IN (0, 1)),
        version TEXT NOT NULL,
        previous TEXT NOT NULL CHECK (json_valid(previous) AND json_type(previous) = 'array'),
        inputs TEXT NOT NULL CHECK (json_valid(inputs) AND json_type(inputs) = 'array'),
        digest TEXT NOT NULL UNIQUE CHECK (length(digest) = 64),
        record TEXT NOT NULL CHECK (json_valid(record) AND json_type(record) = 'object')
    ) STRICT
    ;
INSERT INTO entry VALUES(1,'0255af1a7a101f11','head',1,'2026-03-01T09:01:00.000Z',0,'0.1.0','["c2115bfe519ca621c273ed27d6c60df39c2b4f3cc3a628ff49c68fa0645e0a39"]','[]','0d1e6e5255f84c3bf3e072130d6a9a0185ee9f6581ee1474adb8dde9b45acb94','{"name":"pump-four","text":"bow 0.2 mm"}');
INSERT INTO entry VALUES(2,'0255af1a7a101f11','survey',1,'2026-03-01T09:02:00.000Z',0,'0.1.0','["0d1e6e5255f84c3bf3e072130d6a9a0185ee9f6581ee1474adb8dde9b45acb94"]','["0d1e6e5255f84c3bf3e072130d6a9a0185ee9f6581ee1474adb8dde9b45acb94"]','90955b5e250c52a86ea6bf87a6eb09ddbdaae66e40128588591da9f7cd73c616','{"gaps_mm":[0.05,0.1],"text":"bow 0.2 mm"}');
INSERT INTO entry VALUES(3,'0255af1a7a101f11','plan',1,'2026-03-01T09:03:00.000Z',0,'0.1.0','["90955b5e250c52a86ea6bf87a6eb09ddbdaae66e40128588591da9f7cd73c616"]','["0d1e6e5255f84c3bf3e072130d6a9a0185ee9f6581ee1474adb8dde9b45acb94","90955b5e250c52a86ea6bf87a6eb09ddbdaae66e40128588591da9f7cd73c616"]','9450fa21b271664ae6c1197daccdfcec274d24ec004fb056d6d84817275562b0','{"shims_mm":[0.2,0.2],"text":"bow 0.2 mm"}');
INSERT INTO entry VALUES(4,'0255af1a7a101f11','pass',1,'2026-03-01T09:04:00.000Z',0,'0.1.0','["9450fa21b271664ae6c1197daccdfcec274d24ec004fb056d6d84817275562b0"]','["9450fa21b271664ae6c1197daccdfcec274d24ec004fb056d6d84817275562b0"]','aae305c802b253717952aefb842c7425f6b0786326de5d8e00740a4a95b9ea6b','{"outcome":{"alloy_family":"Al-Si-Mg","factors":{"shrinkage":[-0.1,0.2]},"heat_source":"torch","measured_set_mm":0.1,"pass":1,"predicted_set_mm":0.12}}');
INSERT INTO entry VALUES(5,'5244a7c10a1b6f4a','head',1,'2026-03-01T09:05:00.000Z',0,'0.1.0','["10d5b1bc3405c9ff752b05c25031dd8c0e4586c71676bca3ebe0c159fd1c2f04"]','[]','b42c222050f43af84b3032850f08c376f7254f076736cf095b35976095da030a','{"name":"saw-six","text":"bow 0.2 mm"}');
INSERT INTO entry VALUES(6,'0255af1a7a101f11','pass',1,'2026-03-01T09:06:00.000Z',0,'0.1.0','["aae305c802b253717952aefb842c7425f6b0786326de5d8e00740a4a95b9ea6b"]','["9450fa21b271664ae6c1197daccdfcec274d24ec004fb056d6d84817275562b0"]','0ce50846860e2ec45bac3bcaf4740c14fb9e5abacc0c134e9cbba3d058eb94f3','{"outcome":{"alloy_family":"Al-Si-Mg","factors":{"shrinkage":[-0.2,0.2]},"heat_source":"torch","measured_set_mm":0.1,"pass":2,"predicted_set_mm":0.12},"text":"bow 0.2 mm"}');
INSERT INTO entry VALUES(7,'0255af1a7a101f11','strike',1,'2026-03-01T09:07:00.000Z',0,'0.1.0','["0ce50846860e2ec45bac3bcaf4740c14fb9e5abacc0c134e9cbba3d058eb94f3"]','["aae305c802b253717952aefb842c7425f6b0786326de5d8e00740a4a95b9ea6b"]','8224995319ab1a15408e44dc2a321813760f3cb12f30f64c4f38ab49b1dc8abc','{"reason":"a shim had slipped","struck_number":4,"struck_sha256":"aae305c802b253717952aefb842c7425f6b0786326de5d8e00740a4a95b9ea6b"}');
CREATE TABLE struck (
        number INTEGER PRIMARY KEY REFERENCES entry (number),
        by_entry INTEGER NOT NULL REFERENCES entry (number)
    ) STRICT
    ;
INSERT INTO struck VALUES(4,7);
CREATE TABLE lost (
        number INTEGER UNIQUE,
        digest TEXT UNIQUE,
        noted_at TEXT NOT NULL,
        CHECK (number IS NOT NULL OR digest IS NOT NULL)
    ) STRICT
    ;
CREATE TABLE outcome (
        entry INTEGER PRIMARY KEY REFERENCES entry (number),
        head TEXT NOT NULL REFERENCES head (uid),
        alloy_family TEXT NOT NULL CHECK (alloy_family <> ''),
        heat_source TEXT NOT NULL CHECK (heat_source <> ''),
        pass INTEGER NOT NULL CHECK (pass >= 1),
        predicted_set_mm REAL NOT NULL,
        measured_set_mm REAL NOT NULL,
        factors TEXT NOT NULL CHECK (json_valid(factors) AND json_type(factors) = 'object')
    ) STRICT
    ;
INSERT INTO outcome VALUES(6,'0255af1a7a101f11','Al-Si-Mg','torch',2,0.11999999999999999555,0.10000000000000000555,'{"shrinkage":[-0.2,0.2]}');
CREATE TABLE learned (
        head TEXT NOT NULL REFERENCES head (uid),
        heat_source TEXT NOT NULL,
        factor TEXT NOT NULL,
        alloy_family TEXT NOT NULL,
        mean REAL NOT NULL,
        sd REAL NOT NULL CHECK (sd >= 0),
        entry INTEGER NOT NULL REFERENCES entry (number),
        PRIMARY KEY (head, heat_source, factor)
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO learned VALUES('0255af1a7a101f11','torch','shrinkage','Al-Si-Mg',-0.2000000000000000111,0.2000000000000000111,6);
DELETE FROM sqlite_sequence;
INSERT INTO sqlite_sequence VALUES('entry',7);
CREATE INDEX entry_by_head ON entry (head, number);
CREATE INDEX entry_by_kind ON entry (head, kind, number);
CREATE TRIGGER entry_strikes AFTER INSERT ON entry WHEN NEW.kind = 'strike' BEGIN
        INSERT OR IGNORE INTO struck (number, by_entry)
        SELECT number, NEW.number FROM entry
        WHERE digest = json_extract(NEW.record, '$.struck_sha256') AND head = NEW.head;
    END;
CREATE TRIGGER entry_was_struck AFTER INSERT ON entry WHEN NEW.kind <> 'strike' BEGIN
        INSERT OR IGNORE INTO struck (number, by_entry)
        SELECT NEW.number, number FROM entry
        WHERE head = NEW.head AND kind = 'strike' AND json_extract(record, '$.struck_sha256') = NEW.digest;
    END;
CREATE TRIGGER entry_stays BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END;
CREATE TRIGGER entry_keeps BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
CREATE TRIGGER head_stays BEFORE DELETE ON head BEGIN SELECT RAISE(ABORT, 'heads are never deleted'); END;
CREATE TRIGGER head_keeps BEFORE UPDATE ON head BEGIN SELECT RAISE(ABORT, 'heads are never changed'); END;
CREATE INDEX outcome_by_group
    ON outcome (alloy_family, heat_source, entry, head, predicted_set_mm, measured_set_mm)
    ;
CREATE INDEX outcome_by_head ON outcome (head, heat_source, entry);
CREATE INDEX learned_by_group ON learned (alloy_family, heat_source, factor, mean, sd);
CREATE TRIGGER outcome_teaches AFTER INSERT ON outcome BEGIN
        INSERT INTO learned (head, heat_source, factor, alloy_family, mean, sd, entry)
        SELECT NEW.head, NEW.heat_source, f.key, NEW.alloy_family,
               json_extract(f.value, '$[0]'), json_extract(f.value, '$[1]'), NEW.entry
        FROM json_each(NEW.factors) AS f WHERE true
        ON CONFLICT (head, heat_source, factor) DO UPDATE
        SET alloy_family = excluded.alloy_family, mean = excluded.mean, sd = excluded.sd, entry = excluded.entry
        WHERE excluded.entry > entry;
    END;
CREATE TRIGGER outcome_unteaches AFTER DELETE ON outcome BEGIN
        DELETE FROM learned WHERE entry = OLD.entry AND head = OLD.head AND heat_source = OLD.heat_source;
        INSERT INTO learned (head, heat_source, factor, alloy_family, mean, sd, entry)
        SELECT o.head, o.heat_source, f.key, o.alloy_family,
               json_extract(f.value, '$[0]'), json_extract(f.value, '$[1]'), o.entry
        FROM outcome AS o, json_each(o.factors) AS f
        WHERE o.head = OLD.head AND o.heat_source = OLD.heat_source
        ON CONFLICT (head, heat_source, factor) DO UPDATE
        SET alloy_family = excluded.alloy_family, mean = excluded.mean, sd = excluded.sd, entry = excluded.entry
        WHERE excluded.entry > entry;
    END;
CREATE TRIGGER entry_has_outcome AFTER INSERT ON entry
    WHEN json_type(NEW.record, '$.outcome') = 'object'
        AND NOT EXISTS (SELECT 1 FROM struck WHERE number = NEW.number)
    BEGIN
        INSERT INTO outcome (entry, head, alloy_family, heat_source, pass, predicted_set_mm, measured_set_mm, factors)
        VALUES (
            NEW.number, NEW.head,
            json_extract(NEW.record, '$.outcome.alloy_family'),
            json_extract(NEW.record, '$.outcome.heat_source'),
            json_extract(NEW.record, '$.outcome.pass'),
            json_extract(NEW.record, '$.outcome.predicted_set_mm'),
            json_extract(NEW.record, '$.outcome.measured_set_mm'),
            json_extract(NEW.record, '$.outcome.factors')
        );
    END;
CREATE TRIGGER struck_outcome AFTER INSERT ON struck BEGIN DELETE FROM outcome WHERE entry = NEW.number; END;
COMMIT;
