PRAGMA application_id = 1718185581;
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE camera (
	id CHAR(32) NOT NULL, 
	name VARCHAR NOT NULL, 
	focal_35mm DOUBLE, 
	document JSON NOT NULL, 
	calibrated_at VARCHAR NOT NULL, 
	CONSTRAINT pk_camera PRIMARY KEY (id)
);
INSERT INTO "camera" VALUES('4d8aea307d874f049ba6ffe9fa108dcd','Invented A1',26.0,'{"radial": 0.01}','2026-11-25T11:14:24.752Z');
CREATE TABLE card_print (
	id CHAR(32) NOT NULL, 
	card VARCHAR NOT NULL, 
	design VARCHAR NOT NULL, 
	across_nominal_mm DOUBLE NOT NULL, 
	across_measured_mm DOUBLE NOT NULL, 
	down_nominal_mm DOUBLE NOT NULL, 
	down_measured_mm DOUBLE NOT NULL, 
	u_mm DOUBLE NOT NULL, 
	measured_at VARCHAR NOT NULL, 
	note VARCHAR NOT NULL, 
	CONSTRAINT pk_card_print PRIMARY KEY (id)
);
INSERT INTO "card_print" VALUES('20594496ab66499daadabb1e346cc570','card A6','window-A6-1',100.0,99.8,120.0,119.9,0.02,'2026-05-01','');
CREATE TABLE draft (
	id CHAR(32) NOT NULL, 
	photo_id CHAR(32) NOT NULL, 
	fish VARCHAR NOT NULL, 
	person VARCHAR NOT NULL, 
	purpose VARCHAR NOT NULL, 
	document JSON NOT NULL, 
	saved_at VARCHAR NOT NULL, 
	CONSTRAINT pk_draft PRIMARY KEY (id), 
	CONSTRAINT ck_draft_purpose CHECK (purpose IN ('work', 'repeat')), 
	CONSTRAINT fk_draft_photo_id FOREIGN KEY(photo_id) REFERENCES photo (id), 
	CONSTRAINT uq_draft_photo_id_fish_person_purpose UNIQUE (photo_id, fish, person, purpose)
);
INSERT INTO "draft" VALUES('7544caa525c94dcca5fce37045aeb7e9','df18bc0a692b493aabc6324ab8892174','red 7','Helper','work','{"at": "snout_tip"}','2026-11-25T11:14:24.648Z');
CREATE TABLE event (
	id CHAR(32) NOT NULL, 
	group_id CHAR(32), 
	fish_id CHAR(32), 
	date VARCHAR NOT NULL, 
	event VARCHAR NOT NULL, 
	note VARCHAR NOT NULL, 
	CONSTRAINT pk_event PRIMARY KEY (id), 
	CONSTRAINT fk_event_fish_id FOREIGN KEY(fish_id) REFERENCES fish (id), 
	CONSTRAINT fk_event_group_id FOREIGN KEY(group_id) REFERENCES grp (id)
);
INSERT INTO "event" VALUES('7238f7cc89b044bdac80fc9b6e6d1a29','0c94f6b60cd946f99e4867efaa3b67f9',NULL,'2026-05-04','water change','');
CREATE TABLE fish (
	id CHAR(32) NOT NULL, 
	name VARCHAR NOT NULL, 
	group_id CHAR(32), 
	body_form VARCHAR NOT NULL, 
	note VARCHAR NOT NULL, 
	created_at VARCHAR NOT NULL, 
	CONSTRAINT pk_fish PRIMARY KEY (id), 
	CONSTRAINT fk_fish_group_id FOREIGN KEY(group_id) REFERENCES grp (id), 
	CONSTRAINT uq_fish_name UNIQUE (name)
);
INSERT INTO "fish" VALUES('7e6c56ff692240858af4eff9449912ff','red 7',NULL,'adipose','','2026-11-25T11:14:24.519Z');
CREATE TABLE grp (
	id CHAR(32) NOT NULL, 
	name VARCHAR NOT NULL, 
	kind VARCHAR NOT NULL, 
	body_form VARCHAR NOT NULL, 
	came_from VARCHAR NOT NULL, 
	box VARCHAR NOT NULL, 
	bag VARCHAR NOT NULL, 
	invoiced INTEGER, 
	grade_mm_from DOUBLE, 
	grade_mm_to DOUBLE, 
	alive INTEGER, 
	dead INTEGER, 
	opened_at VARCHAR, 
	claim_until VARCHAR, 
	CONSTRAINT pk_grp PRIMARY KEY (id), 
	CONSTRAINT uq_grp_name UNIQUE (name)
);
INSERT INTO "grp" VALUES('0c94f6b60cd946f99e4867efaa3b67f9','tank 1','tank','','','','',48,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE label (
	id CHAR(32) NOT NULL, 
	fish_id CHAR(32), 
	sighting_id CHAR(32), 
	character VARCHAR NOT NULL, 
	value VARCHAR NOT NULL, 
	set_by VARCHAR NOT NULL, 
	set_at VARCHAR NOT NULL, 
	CONSTRAINT pk_label PRIMARY KEY (id), 
	CONSTRAINT ck_label_one_target CHECK ((fish_id IS NULL) <> (sighting_id IS NULL)), 
	CONSTRAINT fk_label_fish_id FOREIGN KEY(fish_id) REFERENCES fish (id), 
	CONSTRAINT fk_label_sighting_id FOREIGN KEY(sighting_id) REFERENCES sighting (id), 
	CONSTRAINT uq_label_fish_id_character_set_by UNIQUE (fish_id, character, set_by), 
	CONSTRAINT uq_label_sighting_id_character_set_by UNIQUE (sighting_id, character, set_by)
);
INSERT INTO "label" VALUES('8b4bfdc6e3624f4c935ba85e028c95e9','7e6c56ff692240858af4eff9449912ff',NULL,'sex','male','Keeper','2026-11-25T11:14:24.709Z');
CREATE TABLE measure_set (
	id CHAR(32) NOT NULL, 
	reading_id CHAR(32) NOT NULL, 
	scale_id CHAR(32) NOT NULL, 
	code_version VARCHAR NOT NULL, 
	columns JSON NOT NULL, 
	created_at VARCHAR NOT NULL, 
	CONSTRAINT pk_measure_set PRIMARY KEY (id), 
	CONSTRAINT fk_measure_set_reading_id FOREIGN KEY(reading_id) REFERENCES reading (id), 
	CONSTRAINT fk_measure_set_scale_id FOREIGN KEY(scale_id) REFERENCES scale (id), 
	CONSTRAINT uq_measure_set_reading_id_scale_id_code_version UNIQUE (reading_id, scale_id, code_version)
);
INSERT INTO "measure_set" VALUES('d5d8fc8a15624398b866d3908ec39ab6','11f1c2e0e7654fc791cfeee41cf3a67c','200d3a6ce7ea42d695128dd486ce5710','0.1.0','{"measure": [], "value": [], "unit": [], "u": [], "state": [], "flags": [], "reason": []}','2026-11-25T11:14:24.569Z');
INSERT INTO "measure_set" VALUES('b48f4b539aea43f1abea37be359c0903','fce07b9e6add41dfadbe16ec88877db3','200d3a6ce7ea42d695128dd486ce5710','0.1.0','{"measure": ["standard_length"], "value": [31.5], "unit": ["mm"], "u": [0.25], "state": ["measured"], "flags": ["u_default"], "reason": [""]}','2026-11-25T11:14:24.618Z');
CREATE TABLE photo (
	id CHAR(32) NOT NULL, 
	name VARCHAR NOT NULL, 
	current BOOLEAN NOT NULL, 
	sha256 VARCHAR NOT NULL, 
	file VARCHAR NOT NULL, 
	role VARCHAR NOT NULL, 
	width_px INTEGER, 
	height_px INTEGER, 
	taken_at VARCHAR, 
	camera VARCHAR NOT NULL, 
	focal_35mm DOUBLE, 
	state VARCHAR NOT NULL, 
	reason VARCHAR NOT NULL, 
	flags VARCHAR NOT NULL, 
	fish_found INTEGER, 
	seconds DOUBLE, 
	given_digest VARCHAR NOT NULL, 
	run_id CHAR(32), 
	added_at VARCHAR NOT NULL, 
	CONSTRAINT pk_photo PRIMARY KEY (id), 
	CONSTRAINT ck_photo_state CHECK (state IN ('to_do', 'measured', 'refused')), 
	CONSTRAINT fk_photo_run_id FOREIGN KEY(run_id) REFERENCES run (id)
);
INSERT INTO "photo" VALUES('df18bc0a692b493aabc6324ab8892174','tank 1/a.jpg',1,'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa','','fish',4000,3000,'2026-05-03T10:11:12','Invented A1',NULL,'measured','','',1,NULL,'g','9314575e610b4539a9decd1fbfdead0b','2026-11-25T11:14:24.448Z');
INSERT INTO "photo" VALUES('9f03d993121248b1a6cc5068591af346','tank 1/b.jpg',1,'bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb','','fish',NULL,NULL,NULL,'',NULL,'refused','blurred','',0,NULL,'g',NULL,'2026-11-25T11:14:24.583Z');
CREATE TABLE reading (
	id CHAR(32) NOT NULL, 
	sighting_id CHAR(32) NOT NULL, 
	ordinal INTEGER NOT NULL, 
	purpose VARCHAR NOT NULL, 
	source VARCHAR NOT NULL, 
	confirmed BOOLEAN NOT NULL, 
	placed_by VARCHAR NOT NULL, 
	body_form VARCHAR NOT NULL, 
	created_at VARCHAR NOT NULL, 
	run_id CHAR(32), 
	seconds DOUBLE, 
	note VARCHAR NOT NULL, 
	CONSTRAINT pk_reading PRIMARY KEY (id), 
	CONSTRAINT ck_reading_purpose CHECK (purpose IN ('work', 'repeat')), 
	CONSTRAINT ck_reading_source CHECK (source IN ('person', 'file', 'program')), 
	CONSTRAINT fk_reading_run_id FOREIGN KEY(run_id) REFERENCES run (id), 
	CONSTRAINT fk_reading_sighting_id FOREIGN KEY(sighting_id) REFERENCES sighting (id), 
	CONSTRAINT uq_reading_sighting_id_ordinal UNIQUE (sighting_id, ordinal)
);
INSERT INTO "reading" VALUES('11f1c2e0e7654fc791cfeee41cf3a67c','e2cf65d2b13a42b1acd2403a20bdbf2d',1,'work','program',0,'finmeasure','adipose','2026-11-25T11:14:24.561Z','9314575e610b4539a9decd1fbfdead0b',NULL,'');
INSERT INTO "reading" VALUES('fce07b9e6add41dfadbe16ec88877db3','e2cf65d2b13a42b1acd2403a20bdbf2d',2,'work','person',1,'Keeper','adipose','2026-11-25T11:14:24.610Z',NULL,40.0,'');
INSERT INTO "reading" VALUES('764778d56ac74a1c9df3e7a43161df79','e2cf65d2b13a42b1acd2403a20bdbf2d',3,'repeat','person',1,'Keeper','adipose','2026-11-25T11:14:24.635Z',NULL,NULL,'');
CREATE TABLE reading_landmark (
	reading_id CHAR(32) NOT NULL, 
	landmark VARCHAR NOT NULL, 
	position INTEGER NOT NULL, 
	x_px DOUBLE, 
	y_px DOUBLE, 
	u_px DOUBLE, 
	u_across_px DOUBLE, 
	state VARCHAR NOT NULL, 
	placed_by VARCHAR NOT NULL, 
	confidence DOUBLE, 
	CONSTRAINT pk_reading_landmark PRIMARY KEY (reading_id, landmark), 
	CONSTRAINT ck_reading_landmark_state CHECK (state IN ('placed', 'absent', 'hidden')), 
	CONSTRAINT fk_reading_landmark_reading_id FOREIGN KEY(reading_id) REFERENCES reading (id)
)
 WITHOUT ROWID

;
INSERT INTO "reading_landmark" VALUES('11f1c2e0e7654fc791cfeee41cf3a67c','adipose_tip',1,NULL,NULL,NULL,NULL,'absent','finmeasure',NULL);
INSERT INTO "reading_landmark" VALUES('11f1c2e0e7654fc791cfeee41cf3a67c','snout_tip',0,100.25,200.5,2.0,NULL,'placed','finmeasure',NULL);
INSERT INTO "reading_landmark" VALUES('764778d56ac74a1c9df3e7a43161df79','adipose_tip',1,NULL,NULL,NULL,NULL,'absent','Keeper',NULL);
INSERT INTO "reading_landmark" VALUES('764778d56ac74a1c9df3e7a43161df79','snout_tip',0,100.25,200.5,2.0,NULL,'placed','Keeper',NULL);
INSERT INTO "reading_landmark" VALUES('fce07b9e6add41dfadbe16ec88877db3','adipose_tip',1,NULL,NULL,NULL,NULL,'absent','Keeper',NULL);
INSERT INTO "reading_landmark" VALUES('fce07b9e6add41dfadbe16ec88877db3','snout_tip',0,100.25,200.5,2.0,NULL,'placed','Keeper',NULL);
CREATE TABLE reading_outline (
	reading_id CHAR(32) NOT NULL, 
	part VARCHAR NOT NULL, 
	position INTEGER NOT NULL, 
	wkt VARCHAR NOT NULL, 
	placed_by VARCHAR NOT NULL, 
	confidence DOUBLE, 
	spread VARCHAR NOT NULL, 
	edge VARCHAR NOT NULL, 
	CONSTRAINT pk_reading_outline PRIMARY KEY (reading_id, part), 
	CONSTRAINT ck_reading_outline_spread CHECK (spread IN ('spread', 'part_folded', 'clamped')), 
	CONSTRAINT fk_reading_outline_reading_id FOREIGN KEY(reading_id) REFERENCES reading (id)
)
 WITHOUT ROWID

;
INSERT INTO "reading_outline" VALUES('11f1c2e0e7654fc791cfeee41cf3a67c','caudal',0,'LINESTRING (1.0 2.0, 3.5 4.0, 5.0 6.0)','hand',NULL,'spread','clean');
INSERT INTO "reading_outline" VALUES('764778d56ac74a1c9df3e7a43161df79','caudal',0,'LINESTRING (1.0 2.0, 3.5 4.0, 5.0 6.0)','hand',NULL,'spread','clean');
INSERT INTO "reading_outline" VALUES('fce07b9e6add41dfadbe16ec88877db3','caudal',0,'LINESTRING (1.0 2.0, 3.5 4.0, 5.0 6.0)','hand',NULL,'spread','clean');
CREATE TABLE reference (
	id CHAR(32) NOT NULL, 
	kind VARCHAR NOT NULL, 
	fin VARCHAR NOT NULL, 
	fish_id CHAR(32), 
	group_id CHAR(32), 
	name VARCHAR NOT NULL, 
	document JSON NOT NULL, 
	declared_by VARCHAR NOT NULL, 
	declared_at VARCHAR NOT NULL, 
	CONSTRAINT pk_reference PRIMARY KEY (id), 
	CONSTRAINT ck_reference_kind CHECK (kind IN ('own_record', 'healthy_mates', 'species_row')), 
	CONSTRAINT fk_reference_fish_id FOREIGN KEY(fish_id) REFERENCES fish (id), 
	CONSTRAINT fk_reference_group_id FOREIGN KEY(group_id) REFERENCES grp (id)
);
INSERT INTO "reference" VALUES('06eab6f5379341e9b0ca1a5bb9dd9b27','own_record','caudal','7e6c56ff692240858af4eff9449912ff',NULL,'','{"visit": "2026-05-03"}','','2026-11-25T11:14:24.729Z');
CREATE TABLE run (
	id CHAR(32) NOT NULL, 
	version VARCHAR NOT NULL, 
	options JSON NOT NULL, 
	started_at VARCHAR NOT NULL, 
	ended_at VARCHAR, 
	CONSTRAINT pk_run PRIMARY KEY (id)
);
INSERT INTO "run" VALUES('9314575e610b4539a9decd1fbfdead0b','0.1.0','{"question": "full"}','2026-11-25T11:14:24.432Z','2026-11-25T11:14:24.658Z');
CREATE TABLE scale (
	id CHAR(32) NOT NULL, 
	photo_id CHAR(32) NOT NULL, 
	ordinal INTEGER NOT NULL, 
	method VARCHAR NOT NULL, 
	px_per_mm DOUBLE, 
	px_per_mm_u DOUBLE, 
	document JSON, 
	reason VARCHAR NOT NULL, 
	created_at VARCHAR NOT NULL, 
	CONSTRAINT pk_scale PRIMARY KEY (id), 
	CONSTRAINT fk_scale_photo_id FOREIGN KEY(photo_id) REFERENCES photo (id), 
	CONSTRAINT uq_scale_photo_id_ordinal UNIQUE (photo_id, ordinal)
);
INSERT INTO "scale" VALUES('200d3a6ce7ea42d695128dd486ce5710','df18bc0a692b493aabc6324ab8892174',1,'known',2.00000000000011368683e+01,2.00000000000011383949e-02,'{"method": "known", "pixel_to_mm": [[0.05, 0.0, 0.0], [0.0, 0.05, 0.0], [0.0, 0.0, 1.0]], "u_rel": 0.001, "rectified": false, "centre_px": [2000.0, 1500.0], "radial": 0.0, "optical_centre_px": [0.0, 0.0], "radius_px": 1.0, "region_px": null, "flags": [], "budget": []}','','2026-11-25T11:14:24.461Z');
INSERT INTO "scale" VALUES('183a56cbf4b64f8bae15f14ae2ab528a','9f03d993121248b1a6cc5068591af346',1,'',NULL,NULL,NULL,'','2026-11-25T11:14:24.585Z');
CREATE TABLE setting (
	"key" VARCHAR NOT NULL, 
	value JSON NOT NULL, 
	CONSTRAINT pk_setting PRIMARY KEY ("key")
);
INSERT INTO "setting" VALUES('unit','"mm"');
CREATE TABLE sighting (
	id CHAR(32) NOT NULL, 
	photo_id CHAR(32) NOT NULL, 
	number INTEGER NOT NULL, 
	fish_id CHAR(32), 
	group_id CHAR(32), 
	visit_id CHAR(32), 
	side VARCHAR NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_sighting PRIMARY KEY (id), 
	CONSTRAINT ck_sighting_side CHECK (side IN ('left', 'right', '')), 
	CONSTRAINT ck_sighting_number CHECK (number >= 1), 
	CONSTRAINT fk_sighting_fish_id FOREIGN KEY(fish_id) REFERENCES fish (id), 
	CONSTRAINT fk_sighting_group_id FOREIGN KEY(group_id) REFERENCES grp (id), 
	CONSTRAINT fk_sighting_photo_id FOREIGN KEY(photo_id) REFERENCES photo (id), 
	CONSTRAINT fk_sighting_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id), 
	CONSTRAINT uq_sighting_photo_id_fish_id UNIQUE (photo_id, fish_id), 
	CONSTRAINT uq_sighting_photo_id_number UNIQUE (photo_id, number)
);
INSERT INTO "sighting" VALUES('e2cf65d2b13a42b1acd2403a20bdbf2d','df18bc0a692b493aabc6324ab8892174',1,'7e6c56ff692240858af4eff9449912ff','0c94f6b60cd946f99e4867efaa3b67f9','adc94ae92d754773b4ab7028590e0d51','left',0);
CREATE TABLE visit (
	id CHAR(32) NOT NULL, 
	group_id CHAR(32), 
	date VARCHAR NOT NULL, 
	note VARCHAR NOT NULL, 
	CONSTRAINT pk_visit PRIMARY KEY (id), 
	CONSTRAINT fk_visit_group_id FOREIGN KEY(group_id) REFERENCES grp (id)
);
INSERT INTO "visit" VALUES('adc94ae92d754773b4ab7028590e0d51','0c94f6b60cd946f99e4867efaa3b67f9','2026-05-03','');
CREATE TABLE water_test (
	id CHAR(32) NOT NULL, 
	group_id CHAR(32) NOT NULL, 
	taken_at VARCHAR NOT NULL, 
	quantity VARCHAR NOT NULL, 
	value DOUBLE NOT NULL, 
	unit VARCHAR NOT NULL, 
	CONSTRAINT pk_water_test PRIMARY KEY (id), 
	CONSTRAINT fk_water_test_group_id FOREIGN KEY(group_id) REFERENCES grp (id), 
	CONSTRAINT uq_water_test_group_id_taken_at_quantity UNIQUE (group_id, taken_at, quantity)
);
INSERT INTO "water_test" VALUES('7ccace67ec714bffa87f998f09e37b90','0c94f6b60cd946f99e4867efaa3b67f9','2026-05-04','ammonia',0.05,'mg/l');
CREATE INDEX ix_visit_group_id_date ON visit (group_id, date);
CREATE UNIQUE INDEX ix_photo_current_name ON photo (name) WHERE current = 1;
CREATE INDEX ix_photo_sha256 ON photo (sha256);
CREATE INDEX ix_sighting_fish_id ON sighting (fish_id);
CREATE INDEX ix_sighting_group_id ON sighting (group_id);
CREATE INDEX ix_event_group_id_date ON event (group_id, date);
CREATE TRIGGER reading_no_update BEFORE UPDATE ON reading BEGIN SELECT RAISE(ABORT, 'readings and scales are never changed; make a new one'); END;
CREATE TRIGGER reading_no_delete BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'readings and scales are never changed; make a new one'); END;
CREATE TRIGGER reading_landmark_no_update BEFORE UPDATE ON reading_landmark BEGIN SELECT RAISE(ABORT, 'readings and scales are never changed; make a new one'); END;
CREATE TRIGGER reading_landmark_no_delete BEFORE DELETE ON reading_landmark BEGIN SELECT RAISE(ABORT, 'readings and scales are never changed; make a new one'); END;
CREATE TRIGGER reading_outline_no_update BEFORE UPDATE ON reading_outline BEGIN SELECT RAISE(ABORT, 'readings and scales are never changed; make a new one'); END;
CREATE TRIGGER reading_outline_no_delete BEFORE DELETE ON reading_outline BEGIN SELECT RAISE(ABORT, 'readings and scales are never changed; make a new one'); END;
CREATE TRIGGER scale_no_update BEFORE UPDATE ON scale BEGIN SELECT RAISE(ABORT, 'readings and scales are never changed; make a new one'); END;
CREATE TRIGGER scale_no_delete BEFORE DELETE ON scale BEGIN SELECT RAISE(ABORT, 'readings and scales are never changed; make a new one'); END;
COMMIT;
