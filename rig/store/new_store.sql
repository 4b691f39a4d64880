CREATE TABLE bench (
	id INTEGER NOT NULL, 
	uuid TEXT NOT NULL, 
	name TEXT NOT NULL, 
	made_utc TEXT NOT NULL, 
	forwarded BIGINT DEFAULT '0' NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (uuid)
)
;
CREATE TABLE content (
	sha256 TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (sha256)
)
 WITHOUT ROWID
;
CREATE TABLE correction (
	bench SMALLINT NOT NULL, 
	number BIGINT NOT NULL, 
	corrects BIGINT NOT NULL, 
	person TEXT NOT NULL, 
	why TEXT NOT NULL, 
	utc TEXT NOT NULL, 
	PRIMARY KEY (bench, number), 
	FOREIGN KEY(bench) REFERENCES bench (id)
)
;
CREATE INDEX correction_by_corrected ON correction (bench, corrects)
;
CREATE TABLE decision (
	bench SMALLINT NOT NULL, 
	number BIGINT NOT NULL, 
	of_bench SMALLINT NOT NULL, 
	attempt BIGINT NOT NULL, 
	serial TEXT NOT NULL, 
	order_number TEXT NOT NULL, 
	verdict TEXT NOT NULL, 
	person TEXT NOT NULL, 
	released_by TEXT NOT NULL, 
	why TEXT NOT NULL, 
	utc TEXT NOT NULL, 
	stands SMALLINT NOT NULL, 
	PRIMARY KEY (bench, number), 
	FOREIGN KEY(bench) REFERENCES bench (id)
)
;
CREATE INDEX decision_by_attempt ON decision (of_bench, attempt)
;
CREATE INDEX decision_by_serial ON decision (serial)
;
CREATE TABLE document (
	bench SMALLINT NOT NULL, 
	number BIGINT NOT NULL, 
	kind TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	person TEXT NOT NULL, 
	serial TEXT NOT NULL, 
	order_number TEXT NOT NULL, 
	utc TEXT NOT NULL, 
	PRIMARY KEY (bench, number), 
	FOREIGN KEY(bench) REFERENCES bench (id)
)
;
CREATE INDEX document_by_order ON document (order_number)
;
CREATE INDEX document_by_serial ON document (serial)
;
CREATE TABLE lot_entry (
	bench SMALLINT NOT NULL, 
	number BIGINT NOT NULL, 
	lot TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	supplier TEXT NOT NULL, 
	sensor_type TEXT NOT NULL, 
	utc TEXT NOT NULL, 
	PRIMARY KEY (bench, number), 
	FOREIGN KEY(bench) REFERENCES bench (id)
)
;
CREATE INDEX lot_entry_by_lot ON lot_entry (lot, utc)
;
CREATE INDEX lot_entry_by_supplier ON lot_entry (supplier, sensor_type, utc)
;
CREATE TABLE person (
	bench SMALLINT NOT NULL, 
	name TEXT NOT NULL, 
	first_utc TEXT NOT NULL, 
	last_utc TEXT NOT NULL, 
	PRIMARY KEY (bench, name), 
	FOREIGN KEY(bench) REFERENCES bench (id)
)
;
CREATE TABLE run (
	id INTEGER NOT NULL, 
	bench INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	begun_utc TEXT NOT NULL, 
	first BIGINT NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (bench, name), 
	FOREIGN KEY(bench) REFERENCES bench (id)
)
;
CREATE TABLE seal (
	bench SMALLINT NOT NULL, 
	last BIGINT NOT NULL, 
	first BIGINT NOT NULL, 
	sha256 BLOB NOT NULL, 
	parts BLOB NOT NULL, 
	PRIMARY KEY (bench, last), 
	FOREIGN KEY(bench) REFERENCES bench (id)
)
 WITHOUT ROWID
;
CREATE TABLE attempt (
	bench SMALLINT NOT NULL, 
	first BIGINT NOT NULL, 
	last BIGINT NOT NULL, 
	run INTEGER NOT NULL, 
	serial TEXT NOT NULL, 
	order_number TEXT NOT NULL, 
	customer TEXT NOT NULL, 
	sensor_type TEXT NOT NULL, 
	purpose TEXT NOT NULL, 
	setting TEXT NOT NULL, 
	rig TEXT NOT NULL, 
	rig_sha256 TEXT NOT NULL, 
	software TEXT NOT NULL, 
	simulated SMALLINT NOT NULL, 
	person TEXT NOT NULL, 
	began_utc TEXT NOT NULL, 
	began_ns BIGINT NOT NULL, 
	ended_utc TEXT, 
	seconds FLOAT, 
	verdict TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	air_c FLOAT, 
	air_humidity_percent FLOAT, 
	superseded SMALLINT NOT NULL, 
	PRIMARY KEY (bench, first), 
	FOREIGN KEY(bench) REFERENCES bench (id), 
	FOREIGN KEY(run) REFERENCES run (id)
)
 WITHOUT ROWID
;
CREATE INDEX attempt_by_bench ON attempt (bench, began_utc)
;
CREATE INDEX attempt_by_customer ON attempt (customer, began_utc)
;
CREATE INDEX attempt_by_order ON attempt (order_number, began_utc)
;
CREATE INDEX attempt_by_person ON attempt (person, began_utc)
;
CREATE INDEX attempt_by_purpose ON attempt (purpose, began_utc)
;
CREATE INDEX attempt_by_reason ON attempt (reason, began_utc)
;
CREATE INDEX attempt_by_run ON attempt (run, serial, first)
;
CREATE INDEX attempt_by_serial ON attempt (serial, began_utc, superseded)
;
CREATE INDEX attempt_by_time ON attempt (began_utc)
;
CREATE INDEX attempt_by_type ON attempt (sensor_type, began_utc)
;
CREATE INDEX attempt_by_verdict ON attempt (verdict, began_utc)
;
CREATE TABLE entry (
	bench SMALLINT NOT NULL, 
	number BIGINT NOT NULL, 
	run INTEGER NOT NULL, 
	in_run INTEGER NOT NULL, 
	at_ns BIGINT NOT NULL, 
	utc TEXT NOT NULL, 
	order_number TEXT NOT NULL, 
	serial TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (bench, number), 
	FOREIGN KEY(bench) REFERENCES bench (id), 
	FOREIGN KEY(run) REFERENCES run (id)
)
 WITHOUT ROWID
;
CREATE TABLE shop_order (
	run INTEGER NOT NULL, 
	bench SMALLINT NOT NULL, 
	first BIGINT NOT NULL, 
	last BIGINT NOT NULL, 
	number TEXT NOT NULL, 
	customer TEXT NOT NULL, 
	purpose TEXT NOT NULL, 
	sensor_type TEXT NOT NULL, 
	quantity INTEGER NOT NULL, 
	rig TEXT NOT NULL, 
	simulated SMALLINT NOT NULL, 
	software TEXT NOT NULL, 
	person TEXT NOT NULL, 
	setting TEXT NOT NULL, 
	order_sha256 TEXT NOT NULL, 
	type_sha256 TEXT NOT NULL, 
	rig_sha256 TEXT NOT NULL, 
	begun_utc TEXT NOT NULL, 
	ended_utc TEXT, 
	left_over INTEGER, 
	PRIMARY KEY (run), 
	FOREIGN KEY(run) REFERENCES run (id), 
	FOREIGN KEY(bench) REFERENCES bench (id)
)
;
CREATE INDEX shop_order_by_number ON shop_order (number)
;
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'nothing in the record is changed or taken out; a correction is a new entry'); END
;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'nothing in the record is changed or taken out; a correction is a new entry'); END
;
CREATE TRIGGER seal_no_update BEFORE UPDATE ON seal BEGIN SELECT RAISE(ABORT, 'nothing in the record is changed or taken out; a correction is a new entry'); END
;
CREATE TRIGGER seal_no_delete BEFORE DELETE ON seal BEGIN SELECT RAISE(ABORT, 'nothing in the record is changed or taken out; a correction is a new entry'); END
;
CREATE TRIGGER run_no_update BEFORE UPDATE ON run BEGIN SELECT RAISE(ABORT, 'nothing in the record is changed or taken out; a correction is a new entry'); END
;
CREATE TRIGGER run_no_delete BEFORE DELETE ON run BEGIN SELECT RAISE(ABORT, 'nothing in the record is changed or taken out; a correction is a new entry'); END
;
CREATE TRIGGER content_no_update BEFORE UPDATE ON content BEGIN SELECT RAISE(ABORT, 'nothing in the record is changed or taken out; a correction is a new entry'); END
;
CREATE TRIGGER content_no_delete BEFORE DELETE ON content BEGIN SELECT RAISE(ABORT, 'nothing in the record is changed or taken out; a correction is a new entry'); END
;
CREATE TRIGGER entry_follows BEFORE INSERT ON entry WHEN NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM entry WHERE bench = NEW.bench) BEGIN SELECT RAISE(ABORT, 'an entry must follow on its bench''s last one'); END
;
CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL, CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num))
;
INSERT INTO alembic_version (version_num) VALUES ('0005')
;
