-- A register as the first version of the tables left it; all names are invented.
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE contents (
	digest VARCHAR(64) NOT NULL, 
	media_type VARCHAR(80) NOT NULL, 
	size INTEGER NOT NULL, 
	packed BOOLEAN NOT NULL, 
	data BLOB NOT NULL, 
	CONSTRAINT pk_contents PRIMARY KEY (digest), 
	CONSTRAINT ck_contents_digest CHECK (length(digest) = 64), 
	CONSTRAINT ck_contents_size CHECK (size BETWEEN 1 AND 20000000)
);
CREATE TABLE facts (
	seq BIGINT NOT NULL, 
	id CHAR(32) NOT NULL, 
	subject CHAR(32) NOT NULL, 
	stream VARCHAR(40) NOT NULL, 
	kind VARCHAR(40) NOT NULL, 
	corrects CHAR(32), 
	at BIGINT NOT NULL, 
	received BIGINT NOT NULL, 
	body TEXT NOT NULL, 
	hash BLOB NOT NULL, 
	CONSTRAINT pk_facts PRIMARY KEY (seq), 
	CONSTRAINT uq_facts_id UNIQUE (id), 
	CONSTRAINT ck_facts_seq CHECK (seq >= 1), 
	CONSTRAINT ck_facts_hash CHECK (length(hash) = 32), 
	CONSTRAINT ck_facts_body CHECK (length(body) BETWEEN 2 AND 64000), 
	CONSTRAINT ck_facts_corrects CHECK ((corrects IS NOT NULL) = (kind = 'correction'))
);
INSERT INTO "facts" VALUES(1,'95500246ccef4e00a660aa004f53dbea','3519c3053c874207b9c086360a183bda','site','site added',NULL,1777874400000000,1777874400000000,'{"at":"2026-05-04T06:00:00+00:00","by":"Ada Example","device":"phone 1","format":1,"id":"95500246-ccef-4e00-a660-aa004f53dbea","kind":"site added","person":null,"what":{"name":"Karst Hollow (invented)","note":"","site":"3519c305-3c87-4207-b9c0-86360a183bda"}}',X'CE8199B496405E4A3C249076EE30E09756B16599627BE46E6108C07E050E53F5');
INSERT INTO "facts" VALUES(2,'c768f513d8244818aa92b6c6ffb73728','6f242e7f35ed4ef18f38fdcaab8ed7fd','conveyor','conveyor recorded',NULL,1777874400000000,1777874400000000,'{"at":"2026-05-04T06:00:00+00:00","by":"Ada Example","device":"phone 1","format":1,"id":"c768f513-d824-4818-aa92-b6c6ffb73728","kind":"conveyor recorded","person":null,"what":{"belt_length":240.0,"conveyor":"6f242e7f-35ed-4ef1-8f38-fdcaab8ed7fd","file":null,"name":"K2","site":"3519c305-3c87-4207-b9c0-86360a183bda","speed":2.0}}',X'58EC20AAD37A5C2FB0F318012CFB2D6550CF91FD1050BDEC9963A3024C57C8ED');
INSERT INTO "facts" VALUES(3,'3e491a4dbd6541bcb4934c854aac53e4','1a6809ce7e11464cbc21a3b50865cf1f','belt','belt placed',NULL,1777874400000000,1777874400000000,'{"at":"2026-05-04T06:00:00+00:00","by":"Ada Example","device":"phone 1","format":1,"id":"3e491a4d-bd65-41bc-b493-4c854aac53e4","kind":"belt placed","person":null,"what":{"belt":"1a6809ce-7e11-464c-bc21-a3b50865cf1f","conveyor":"6f242e7f-35ed-4ef1-8f38-fdcaab8ed7fd","length":240.0,"marking":"EP 500/3 5+2","name":"main belt"}}',X'94DC5927D0B51697804F797F78FDC73D33E59647F2BC03366CCCA0D5500D7FB5');
INSERT INTO "facts" VALUES(4,'c72b52bec4544cf49b331283ba9c6c01','6e832a66455f46b6adc3eb9c101d9c8e','joint','joint planned',NULL,1777874400000000,1777874400000000,'{"at":"2026-05-04T06:00:00+00:00","by":"Ada Example","device":"phone 1","format":1,"id":"c72b52be-c454-4cf4-9b33-1283ba9c6c01","kind":"joint planned","person":null,"what":{"belt":"1a6809ce-7e11-464c-bc21-a3b50865cf1f","conveyor":"6f242e7f-35ed-4ef1-8f38-fdcaab8ed7fd","inspect_after":604800.0,"joint":"6e832a66-455f-46b6-adc3-eb9c101d9c8e","label":"J1","place":60.0,"plan":null,"plan_id":"","retighten_after":28800.0}}',X'6721C06DA0865C628882C4DC6741D72663CFDAA4E2A5C01F7C4B9B25CBEDDA4D');
INSERT INTO "facts" VALUES(5,'f69e0729c8d84d01a1bb4e52538999b5','6e832a66455f46b6adc3eb9c101d9c8e','joint','joint built',NULL,1777878000000000,1777878000000000,'{"at":"2026-05-04T07:00:00+00:00","by":"Ada Example","device":"phone 1","format":1,"id":"f69e0729-c8d8-4d01-a1bb-4e52538999b5","kind":"joint built","person":null,"what":{"joint":"6e832a66-455f-46b6-adc3-eb9c101d9c8e"}}',X'1AF2670C7249C9675767756B216328481235D15E5AD2136BD51B61643DC99837');
INSERT INTO "facts" VALUES(6,'0e1fbda1ce394378bf8892304bcb5152','6e832a66455f46b6adc3eb9c101d9c8e','joint','joint put to work',NULL,1777878000000000,1777878000000000,'{"at":"2026-05-04T07:00:00+00:00","by":"Ada Example","device":"phone 1","format":1,"id":"0e1fbda1-ce39-4378-bf88-92304bcb5152","kind":"joint put to work","person":null,"what":{"joint":"6e832a66-455f-46b6-adc3-eb9c101d9c8e"}}',X'8077131F9DA723C5A8BE2E24FEEA377F8B984B5D2643878A5908DE107F026C0C');
INSERT INTO "facts" VALUES(7,'002615ee01ab4929a190f468570a3265','3519c3053c874207b9c086360a183bda','site','stock moved',NULL,1777878000000000,1777878000000000,'{"at":"2026-05-04T07:00:00+00:00","by":"Ada Example","device":"phone 1","format":1,"id":"002615ee-01ab-4929-a190-f468570a3265","kind":"stock moved","person":null,"what":{"count":100.0,"item":"bolt","job":null,"site":"3519c305-3c87-4207-b9c0-86360a183bda","why":""}}',X'8F282FB614F7CE4011F864CB500A89F1C965DC0C399DFD3A11B150C4B0E73214');
INSERT INTO "facts" VALUES(8,'daaee8e0ef7246f6afed47f9a73d1e40','3519c3053c874207b9c086360a183bda','site','correction','002615ee01ab4929a190f468570a3265',1777878000000000,1777878000000000,'{"at":"2026-05-04T07:00:00+00:00","by":"Ada Example","device":"phone 1","format":1,"id":"daaee8e0-ef72-46f6-afed-47f9a73d1e40","kind":"correction","person":null,"what":{"about":"3519c305-3c87-4207-b9c0-86360a183bda","corrects":"002615ee-01ab-4929-a190-f468570a3265","instead":{"count":80.0,"item":"bolt","job":null,"site":"3519c305-3c87-4207-b9c0-86360a183bda","why":""},"kind":"stock moved","of":"site","why":"counted again"}}',X'151A0BFBC560CDB5D49BC6A5C4124E0C9BCDA1035B8F7A4BE4FF08589C87E704');
CREATE TABLE register (
	one INTEGER NOT NULL, 
	seq BIGINT NOT NULL, 
	hash BLOB NOT NULL, 
	CONSTRAINT pk_register PRIMARY KEY (one), 
	CONSTRAINT ck_register_one CHECK (one = 1), 
	CONSTRAINT ck_register_seq CHECK (seq >= 0), 
	CONSTRAINT ck_register_hash CHECK (length(hash) = 32)
);
INSERT INTO "register" VALUES(1,8,X'151A0BFBC560CDB5D49BC6A5C4124E0C9BCDA1035B8F7A4BE4FF08589C87E704');
CREATE INDEX ix_facts_subject_seq ON facts (subject, seq);
CREATE INDEX ix_facts_corrects ON facts (corrects) WHERE corrects IS NOT NULL;
CREATE TRIGGER facts_no_update BEFORE UPDATE ON facts BEGIN SELECT RAISE(ABORT, 'facts are never changed'); END;
CREATE TRIGGER facts_no_delete BEFORE DELETE ON facts BEGIN SELECT RAISE(ABORT, 'facts are never changed'); END;
CREATE TRIGGER contents_no_update BEFORE UPDATE ON contents BEGIN SELECT RAISE(ABORT, 'contents are never changed'); END;
CREATE TRIGGER contents_no_delete BEFORE DELETE ON contents BEGIN SELECT RAISE(ABORT, 'contents are never changed'); END;
COMMIT;
