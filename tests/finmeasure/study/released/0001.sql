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
INSERT INTO "camera" VALUES('01a2127e19ff7285b9a804925d3bbf56','Invented A1',26.0,'{"radial": 0.01}','2026-11-25T11:36:23.806Z');
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
INSERT INTO "card_print" VALUES('01a2127e19fd769782d33e13f65a80fe','card A6','window-A6-1',100.0,99.8,120.0,119.9,0.02,'2026-05-01','');
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
INSERT INTO "draft" VALUES('01a2127e19e978f387ef34de94a0005f','01a2127e199e7b23953c908580824682','red 7','Helper','work','{"at": "snout_tip"}','2026-11-25T11:36:23.784Z');
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
INSERT INTO "event" VALUES('01a2127e19f174e69a84a8346da96ce3','01a2127e19c478ddacc5092cb0df2b1d',NULL,'2026-05-04','water change','');
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
INSERT INTO "fish" VALUES('01a2127e19bd7e4283bcdf6d64689085','red 7',NULL,'adipose','','2026-11-25T11:36:23.741Z');
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
INSERT INTO "grp" VALUES('01a2127e19c478ddacc5092cb0df2b1d','tank 1','tank','','','','',48,NULL,NULL,NULL,NULL,NULL,NULL);
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
INSERT INTO "label" VALUES('01a2127e19f77ae4a1ec48ecaeb938bb','01a2127e19bd7e4283bcdf6d64689085',NULL,'sex','male','Keeper','2026-11-25T11:36:23.798Z');
CREATE TABLE measure_set (
	id CHAR(32) NOT NULL, 
	reading_id CHAR(32) NOT NULL, 
	scale_id CHAR(32) NOT NULL, 
	code_version VARCHAR NOT NULL, 
	measure JSON NOT NULL, 
	value JSON NOT NULL, 
	unit JSON NOT NULL, 
	u JSON NOT NULL, 
	state JSON NOT NULL, 
	flags JSON NOT NULL, 
	reason JSON NOT NULL, 
	created_at VARCHAR NOT NULL, 
	CONSTRAINT pk_measure_set PRIMARY KEY (id), 
	CONSTRAINT fk_measure_set_reading_id FOREIGN KEY(reading_id) REFERENCES reading (id), 
	CONSTRAINT fk_measure_set_scale_id FOREIGN KEY(scale_id) REFERENCES scale (id), 
	CONSTRAINT uq_measure_set_reading_id_scale_id_code_version UNIQUE (reading_id, scale_id, code_version)
);
INSERT INTO "measure_set" VALUES('01a2127e19cd7393a638dde3aa4c1fba','01a2127e19c97f7a9697553b2066c37a','01a2127e19a27e40b46686b56f304b94','0.1.0','[]','[]','[]','[]','[]','[]','[]','2026-11-25T11:36:23.757Z');
INSERT INTO "measure_set" VALUES('01a2127e19e07e9994fb647be690335f','01a2127e19df7e8eb90d6b60e2cc1f69','01a2127e19a27e40b46686b56f304b94','0.1.0','["standard_length"]','[31.5]','["mm"]','[0.25]','["measured"]','["u_default"]','[""]','2026-11-25T11:36:23.776Z');
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
INSERT INTO "photo" VALUES('01a2127e199e7b23953c908580824682','tank 1/a.jpg',1,'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa','','fish',4000,3000,'2026-05-03T10:11:12','Invented A1',NULL,'measured','','',1,NULL,'g','01a2127e19987c8f8cf52caaee656ac7','2026-11-25T11:36:23.710Z');
INSERT INTO "photo" VALUES('01a2127e19d27e4a9fcbd59be42f9a48','tank 1/b.jpg',1,'bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb','','fish',NULL,NULL,NULL,'',NULL,'refused','blurred','',0,NULL,'g',NULL,'2026-11-25T11:36:23.762Z');
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
INSERT INTO "reading" VALUES('01a2127e19c97f7a9697553b2066c37a','01a2127e19ba77ca933583a57c7ea3f0',1,'work','program',0,'finmeasure','adipose','2026-11-25T11:36:23.753Z','01a2127e19987c8f8cf52caaee656ac7',NULL,'');
INSERT INTO "reading" VALUES('01a2127e19df7e8eb90d6b60e2cc1f69','01a2127e19ba77ca933583a57c7ea3f0',2,'work','person',1,'Keeper','adipose','2026-11-25T11:36:23.775Z',NULL,40.0,'');
INSERT INTO "reading" VALUES('01a2127e19e574c29a8889b503d30c87','01a2127e19ba77ca933583a57c7ea3f0',3,'repeat','person',1,'Keeper','adipose','2026-11-25T11:36:23.781Z',NULL,NULL,'');
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
INSERT INTO "reading_landmark" VALUES('01a2127e19c97f7a9697553b2066c37a','adipose_tip',1,NULL,NULL,NULL,NULL,'absent','finmeasure',NULL);
INSERT INTO "reading_landmark" VALUES('01a2127e19c97f7a9697553b2066c37a','snout_tip',0,100.25,200.5,2.0,NULL,'placed','finmeasure',NULL);
INSERT INTO "reading_landmark" VALUES('01a2127e19df7e8eb90d6b60e2cc1f69','adipose_tip',1,NULL,NULL,NULL,NULL,'absent','Keeper',NULL);
INSERT INTO "reading_landmark" VALUES('01a2127e19df7e8eb90d6b60e2cc1f69','snout_tip',0,100.25,200.5,2.0,NULL,'placed','Keeper',NULL);
INSERT INTO "reading_landmark" VALUES('01a2127e19e574c29a8889b503d30c87','adipose_tip',1,NULL,NULL,NULL,NULL,'absent','Keeper',NULL);
INSERT INTO "reading_landmark" VALUES('01a2127e19e574c29a8889b503d30c87','snout_tip',0,100.25,200.5,2.0,NULL,'placed','Keeper',NULL);
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
INSERT INTO "reading_outline" VALUES('01a2127e19c97f7a9697553b2066c37a','caudal',0,'LINESTRING (1.0 2.0, 3.5 4.0, 5.0 6.0)','hand',NULL,'spread','clean');
INSERT INTO "reading_outline" VALUES('01a2127e19df7e8eb90d6b60e2cc1f69','caudal',0,'LINESTRING (1.0 2.0, 3.5 4.0, 5.0 6.0)','hand',NULL,'spread','clean');
INSERT INTO "reading_outline" VALUES('01a2127e19e574c29a8889b503d30c87','caudal',0,'LINESTRING (1.0 2.0, 3.5 4.0, 5.0 6.0)','hand',NULL,'spread','clean');
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
INSERT INTO "reference" VALUES('01a2127e19f97fc29008524e66f48869','own_record','caudal','01a2127e19bd7e4283bcdf6d64689085',NULL,'','{"visit": "2026-05-03"}','','2026-11-25T11:36:23.802Z');
CREATE TABLE run (
	id CHAR(32) NOT NULL, 
	version VARCHAR NOT NULL, 
	options JSON NOT NULL, 
	started_at VARCHAR NOT NULL, 
	ended_at VARCHAR, 
	CONSTRAINT pk_run PRIMARY KEY (id)
);
INSERT INTO "run" VALUES('01a2127e19987c8f8cf52caaee656ac7','0.1.0','{"question": "full"}','2026-11-25T11:36:23.705Z','2026-11-25T11:36:23.787Z');
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
INSERT INTO "scale" VALUES('01a2127e19a27e40b46686b56f304b94','01a2127e199e7b23953c908580824682',1,'known',2.00000000000011368683e+01,2.00000000000011383949e-02,'{"method": "known", "pixel_to_mm": [[0.05, 0.0, 0.0], [0.0, 0.05, 0.0], [0.0, 0.0, 1.0]], "u_rel": 0.001, "rectified": false, "centre_px": [2000.0, 1500.0], "radial": 0.0, "optical_centre_px": [0.0, 0.0], "radius_px": 1.0, "region_px": null, "flags": [], "budget": []}','','2026-11-25T11:36:23.714Z');
INSERT INTO "scale" VALUES('01a2127e19d37fdebf51b0f585fbcd34','01a2127e19d27e4a9fcbd59be42f9a48',1,'',NULL,NULL,NULL,'','2026-11-25T11:36:23.763Z');
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
INSERT INTO "sighting" VALUES('01a2127e19ba77ca933583a57c7ea3f0','01a2127e199e7b23953c908580824682',1,'01a2127e19bd7e4283bcdf6d64689085','01a2127e19c478ddacc5092cb0df2b1d','01a2127e19c677e5ab639679b30bc133','left',0);
CREATE TABLE visit (
	id CHAR(32) NOT NULL, 
	group_id CHAR(32), 
	date VARCHAR NOT NULL, 
	note VARCHAR NOT NULL, 
	CONSTRAINT pk_visit PRIMARY KEY (id), 
	CONSTRAINT fk_visit_group_id FOREIGN KEY(group_id) REFERENCES grp (id)
);
INSERT INTO "visit" VALUES('01a2127e19c677e5ab639679b30bc133','01a2127e19c478ddacc5092cb0df2b1d','2026-05-03','');
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
INSERT INTO "water_test" VALUES('01a2127e19f47aad95c6393db4357e5d','01a2127e19c478ddacc5092cb0df2b1d','2026-05-04','ammonia',0.05,'mg/l');
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
