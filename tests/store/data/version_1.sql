-- A store of version 1 as that version wrote it; invented pulls.
BEGIN TRANSACTION;
CREATE TABLE answer (
	number INTEGER NOT NULL, 
	question_name VARCHAR(120) NOT NULL, 
	question TEXT NOT NULL, 
	summary TEXT NOT NULL, 
	posterior_id VARCHAR(80) NOT NULL, 
	answered_at DATETIME NOT NULL, 
	PRIMARY KEY (number), 
	FOREIGN KEY(posterior_id) REFERENCES posterior (id)
);
CREATE TABLE attempt (
	fingerprint VARCHAR(80) NOT NULL, 
	state VARCHAR(20) NOT NULL, 
	reasons TEXT NOT NULL, 
	tries INTEGER NOT NULL, 
	at DATETIME NOT NULL, 
	PRIMARY KEY (fingerprint)
);
INSERT INTO "attempt" VALUES('first','passed','[]',1,'2026-05-04 12:11:00.000000');
CREATE TABLE campaign (
	id INTEGER NOT NULL, 
	name VARCHAR(120) NOT NULL, 
	record TEXT NOT NULL, 
	stored_at DATETIME NOT NULL, 
	PRIMARY KEY (id)
);
INSERT INTO "campaign" VALUES(1,'Small trials','{"name":"Small trials","is_invented":true,"about":"","load_unit":"kn","length_unit":"m","usual_scope":5.0,"let_go_m":null,"boats":[{"name":"workboat","top_thrust_kn":4.6,"bow_height_m":1.0,"calibration_error":0.05}],"gauges":[{"name":"cell","repeatability":0.02,"resolution_kn":0.05}],"ladders":[{"name":"steps","steps":[{"load_kn":0.5,"label":null,"dwell_s":15.0},{"load_kn":1.0,"label":null,"dwell_s":15.0},{"load_kn":1.5,"label":null,"dwell_s":15.0},{"load_kn":2.0,"label":null,"dwell_s":15.0},{"load_kn":2.6,"label":null,"dwell_s":15.0},{"load_kn":3.2,"label":null,"dwell_s":15.0},{"load_kn":3.9,"label":null,"dwell_s":15.0},{"load_kn":4.6,"label":null,"dwell_s":15.0}],"final_hold_s":60.0}],"outings":[{"name":"day 1","date":"2026-04-11","ladder":"steps","boat":"workboat","gauge":"cell","site":"north"},{"name":"day 2","date":"2026-04-18","ladder":"steps","boat":"workboat","gauge":"cell","site":"north"}],"seabeds":[{"name":"firm sand","seabed_class":"sand"},{"name":"soft mud","seabed_class":"mud"}],"sites":[{"name":"north","seabed":"firm sand"},{"name":"south","seabed":"soft mud"}],"anchors":[{"code":"S6","kind":"scoop with roll bar","mass_kg":6.0,"since":null,"modified_from":null},{"code":"P9","kind":"hinged plough","mass_kg":9.0,"since":null,"modified_from":null}],"treatments":[{"name":"leader","baseline":"chain only","levels":["chain only","wire 2 m"]},{"name":"chain","baseline":"8 mm","levels":["8 mm","6 mm"]}],"interactions":[],"signs":[{"name":"marker under","points_to":"upright"}],"minutes":{"pull":15.0,"rig_change":10.0,"move":20.0},"main_question":"leader on S6","questions":[{"name":"leader on S6","a":{"anchor":"S6","levels":{"leader":"wire 2 m"},"scope":null},"b":{"anchor":"S6","levels":{},"scope":null},"seabeds":["firm sand"],"measure":"typical","hold_kn":null,"over":"campaign","band":{"kind":"ratio","lower":0.8695652173913044,"upper":1.15}},{"name":"leader in general","a":{"anchor":null,"levels":{"leader":"wire 2 m"},"scope":null},"b":{"anchor":null,"levels":{},"scope":null},"seabeds":[],"measure":"typical","hold_kn":null,"over":"campaign","band":{"kind":"ratio","lower":0.8695652173913044,"upper":1.15}},{"name":"S6 or P9 at 3 kN","a":{"anchor":"S6","levels":{},"scope":null},"b":{"anchor":"P9","levels":{},"scope":null},"seabeds":[],"measure":"hold","hold_kn":3.0,"over":"campaign","band":{"kind":"difference","lower":-0.1,"upper":0.1}},{"name":"leader and upright","a":{"anchor":"S6","levels":{"leader":"wire 2 m"},"scope":null},"b":{"anchor":"S6","levels":{},"scope":null},"seabeds":[],"measure":"upright","hold_kn":null,"over":"campaign","band":{"kind":"difference","lower":-0.1,"upper":0.1}}]}','2026-05-04 12:00:00.000000');
CREATE TABLE posterior (
	number INTEGER NOT NULL, 
	id VARCHAR(80) NOT NULL, 
	pulls_fingerprint VARCHAR(80) NOT NULL, 
	pull_count INTEGER NOT NULL, 
	is_published BOOLEAN NOT NULL, 
	file TEXT, 
	sha256 VARCHAR(64) NOT NULL, 
	stored_at DATETIME NOT NULL, 
	PRIMARY KEY (number), 
	UNIQUE (id)
);
INSERT INTO "posterior" VALUES(1,'first','cd690403b066ab1a5db0e1c6321f2196c810c16de9667dcb526c1c7a113319c0',7,0,'first-3b86e90a70ea.nc','3b86e90a70eaef96ea5096a8054b0b04fc70b53690915dec9c25297f80d45009','2026-05-04 12:10:00.000000');
CREATE TABLE pull (
	id INTEGER NOT NULL, 
	outing VARCHAR(120) NOT NULL, 
	code VARCHAR(120) NOT NULL, 
	revision INTEGER NOT NULL, 
	anchor VARCHAR(120) NOT NULL, 
	seabed VARCHAR(120) NOT NULL, 
	record TEXT NOT NULL, 
	source TEXT NOT NULL, 
	stored_at DATETIME NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (outing, code, revision)
);
INSERT INTO "pull" VALUES(1,'day 1','1',1,'S6','firm sand','{"code":"1","outing":"day 1","anchor":"S6","seabed":"firm sand","site":"north","levels":{"leader":"chain only","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":2.6,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":"on_side","has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-1.csv','2026-05-04 12:01:00.000000');
INSERT INTO "pull" VALUES(2,'day 1','2',1,'S6','firm sand','{"code":"2","outing":"day 1","anchor":"S6","seabed":"firm sand","site":"north","levels":{"leader":"wire 2 m","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":3.9,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":"upright","has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-1.csv','2026-05-04 12:02:00.000000');
INSERT INTO "pull" VALUES(3,'day 1','3',1,'S6','firm sand','{"code":"3","outing":"day 1","anchor":"S6","seabed":"firm sand","site":"north","levels":{"leader":"chain only","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":3.2,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":"upright","has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-1.csv','2026-05-04 12:03:00.000000');
INSERT INTO "pull" VALUES(4,'day 1','4',1,'S6','firm sand','{"code":"4","outing":"day 1","anchor":"S6","seabed":"firm sand","site":"north","levels":{"leader":"wire 2 m","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"held","reading":"step","load_kn":4.6,"resolution_kn":null,"last_held_kn":null,"held_s":60.0,"start_kn":null,"mode":"upright","has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-1.csv','2026-05-04 12:04:00.000000');
INSERT INTO "pull" VALUES(5,'day 1','5',1,'S6','firm sand','{"code":"5","outing":"day 1","anchor":"S6","seabed":"firm sand","site":"north","levels":{"leader":"chain only","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":2.0,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":null,"has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-1.csv','2026-05-04 12:05:00.000000');
INSERT INTO "pull" VALUES(6,'day 1','6',1,'P9','firm sand','{"code":"6","outing":"day 1","anchor":"P9","seabed":"firm sand","site":"north","levels":{"leader":"chain only","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"never_set","reading":"step","load_kn":null,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":null,"has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-1.csv','2026-05-04 12:06:00.000000');
INSERT INTO "pull" VALUES(7,'day 1','7',1,'P9','firm sand','{"code":"7","outing":"day 1","anchor":"P9","seabed":"firm sand","site":"north","levels":{"leader":"wire 2 m","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":2.6,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":null,"has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-1.csv','2026-05-04 12:07:00.000000');
INSERT INTO "pull" VALUES(8,'day 1','8',1,'P9','firm sand','{"code":"8","outing":"day 1","anchor":"P9","seabed":"firm sand","site":"north","levels":{"leader":"chain only","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"void","reading":"step","load_kn":null,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":null,"has_camera":null,"buried":null,"signs":{}}],"reason":"fouled on old line","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-1.csv','2026-05-04 12:08:00.000000');
INSERT INTO "pull" VALUES(9,'day 2','1',1,'S6','firm sand','{"code":"1","outing":"day 2","anchor":"S6","seabed":"firm sand","site":"north","levels":{"leader":"wire 2 m","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":2.0,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":"on_side","has_camera":null,"buried":null,"signs":{}},{"number":2,"start":"after_slip","ending":"held","reading":"step","load_kn":4.6,"resolution_kn":null,"last_held_kn":null,"held_s":60.0,"start_kn":null,"mode":"upright","has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-2.csv','2026-05-04 12:12:00.000000');
INSERT INTO "pull" VALUES(10,'day 2','2',1,'S6','firm sand','{"code":"2","outing":"day 2","anchor":"S6","seabed":"firm sand","site":"north","levels":{"leader":"chain only","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":3.2,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":null,"has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-2.csv','2026-05-04 12:13:00.000000');
INSERT INTO "pull" VALUES(11,'day 2','3',1,'S6','firm sand','{"code":"3","outing":"day 2","anchor":"S6","seabed":"firm sand","site":"north","levels":{"leader":"wire 2 m","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":4.6,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":"upright","has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-2.csv','2026-05-04 12:14:00.000000');
INSERT INTO "pull" VALUES(12,'day 2','4',1,'S6','firm sand','{"code":"4","outing":"day 2","anchor":"S6","seabed":"firm sand","site":"north","levels":{"leader":"chain only","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"held","reading":"step","load_kn":4.6,"resolution_kn":null,"last_held_kn":null,"held_s":60.0,"start_kn":null,"mode":"upright","has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-2.csv','2026-05-04 12:15:00.000000');
INSERT INTO "pull" VALUES(13,'day 2','5',1,'P9','soft mud','{"code":"5","outing":"day 2","anchor":"P9","seabed":"soft mud","site":"south","levels":{"leader":"chain only","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":2.0,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":"on_side","has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-2.csv','2026-05-04 12:16:00.000000');
INSERT INTO "pull" VALUES(14,'day 2','6',1,'P9','soft mud','{"code":"6","outing":"day 2","anchor":"P9","seabed":"soft mud","site":"south","levels":{"leader":"wire 2 m","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":1.5,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":"on_side","has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-2.csv','2026-05-04 12:17:00.000000');
INSERT INTO "pull" VALUES(15,'day 2','7',1,'S6','soft mud','{"code":"7","outing":"day 2","anchor":"S6","seabed":"soft mud","site":"south","levels":{"leader":"chain only","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":1.5,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":null,"has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-2.csv','2026-05-04 12:18:00.000000');
INSERT INTO "pull" VALUES(16,'day 2','8',1,'S6','soft mud','{"code":"8","outing":"day 2","anchor":"S6","seabed":"soft mud","site":"south","levels":{"leader":"wire 2 m","chain":"8 mm"},"scope":5.0,"date":null,"time":null,"bites":[{"number":1,"start":"fresh","ending":"released","reading":"step","load_kn":2.0,"resolution_kn":null,"last_held_kn":null,"held_s":null,"start_kn":null,"mode":null,"has_camera":null,"buried":null,"signs":{}}],"reason":"","soak_min":null,"wind":"","current":"","sea":"","video":"","photo":"","notes":"","extras":{}}','day-2.csv','2026-05-04 12:19:00.000000');
CREATE TABLE schema_version (
	id INTEGER NOT NULL, 
	version INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT one_row CHECK (id = 1)
);
INSERT INTO "schema_version" VALUES(1,1);
CREATE INDEX ix_pull_anchor ON pull (anchor);
CREATE INDEX ix_pull_seabed ON pull (seabed);
CREATE INDEX ix_attempt_at ON attempt (at);
CREATE INDEX answer_question ON answer (question_name, number);
COMMIT;
