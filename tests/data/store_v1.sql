-- A store as version 1 left it: its tables, and a few rows of the invented garden.
CREATE TABLE series (
  id INTEGER PRIMARY KEY,
  sensor TEXT NOT NULL,
  place TEXT NOT NULL,
  channel INTEGER NOT NULL,
  last_at INTEGER,           -- of the hours that are summarised
  last_value_milli INTEGER
);
CREATE TABLE recent (
  time INTEGER NOT NULL,
  series INTEGER NOT NULL,
  value_milli INTEGER NOT NULL,
  PRIMARY KEY (time, series)
) WITHOUT ROWID;
CREATE TABLE doubtful (
  time INTEGER NOT NULL,
  series INTEGER NOT NULL,
  value REAL NOT NULL,       -- in the channel's unit
  reason TEXT NOT NULL,
  PRIMARY KEY (time, series, value)
) WITHOUT ROWID;
CREATE TABLE hourly (
  hour INTEGER NOT NULL,     -- when it began
  series INTEGER NOT NULL,
  low_milli INTEGER NOT NULL,
  low_at INTEGER NOT NULL,
  high_milli INTEGER NOT NULL,
  high_at INTEGER NOT NULL,
  sum_milli INTEGER NOT NULL,
  readings INTEGER NOT NULL,
  PRIMARY KEY (hour, series)
) WITHOUT ROWID;
CREATE TABLE daily (
  day INTEGER NOT NULL,      -- the local date on which it began
  series INTEGER NOT NULL,
  low_milli INTEGER NOT NULL,
  low_at INTEGER NOT NULL,
  high_milli INTEGER NOT NULL,
  high_at INTEGER NOT NULL,
  sum_milli INTEGER NOT NULL,
  readings INTEGER NOT NULL,
  hours INTEGER NOT NULL,    -- UTC clock hours with a reading
  PRIMARY KEY (day, series)
) WITHOUT ROWID;
CREATE TABLE summary_state ( -- one row
  id INTEGER PRIMARY KEY CHECK (id = 1),
  summarised_until INTEGER,
  readings_before INTEGER NOT NULL,  -- how many are earlier than that
  day_zone TEXT,                     -- how the days of `daily` were cut
  day_starts_minutes INTEGER
);
INSERT INTO summary_state (id, readings_before) VALUES (1, 0);
CREATE TABLE outlook (
  place TEXT NOT NULL,
  night INTEGER NOT NULL,    -- the date of the morning
  moment INTEGER NOT NULL,
  issued_at INTEGER NOT NULL,
  sunset INTEGER NOT NULL,
  sunrise INTEGER NOT NULL,
  low_celsius REAL NOT NULL,
  low10_celsius REAL NOT NULL,
  low90_celsius REAL NOT NULL,
  spread_below_kelvins REAL NOT NULL,
  spread_above_kelvins REAL NOT NULL,
  running_low_celsius REAL,
  humidity_known INTEGER NOT NULL,
  PRIMARY KEY (place, night, moment)
) WITHOUT ROWID;
CREATE TABLE night (
  place TEXT NOT NULL,
  night INTEGER NOT NULL,
  low_celsius REAL,
  low_at INTEGER,
  PRIMARY KEY (place, night)
) WITHOUT ROWID;
CREATE TABLE outlook_state (
  place TEXT PRIMARY KEY,
  state TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE matter (
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  holds_since INTEGER,
  gone_since INTEGER,
  notice INTEGER NOT NULL,
  settled_urgency REAL,
  PRIMARY KEY (kind, subject)
) WITHOUT ROWID;
CREATE TABLE notice (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  place TEXT NOT NULL,
  state TEXT NOT NULL,
  raised_at INTEGER NOT NULL,
  spoke_at INTEGER NOT NULL,
  deadline INTEGER,
  ends_at INTEGER,
  closed_at INTEGER,
  revision INTEGER NOT NULL,
  urgency REAL NOT NULL,
  layers INTEGER NOT NULL,
  failures INTEGER NOT NULL, -- attempts to deliver it that failed
  title TEXT NOT NULL,
  body TEXT NOT NULL
);
CREATE INDEX notice_open ON notice (id) WHERE state IN ('raised', 'delivered');
CREATE TABLE outbox (
  id INTEGER PRIMARY KEY,
  notice INTEGER NOT NULL,
  revision INTEGER NOT NULL,
  route TEXT NOT NULL,
  event TEXT NOT NULL,
  state TEXT NOT NULL,
  due_at INTEGER NOT NULL,
  ends_at INTEGER,
  attempts INTEGER NOT NULL,
  delivered_at INTEGER,
  trouble TEXT NOT NULL
);
CREATE INDEX outbox_waiting ON outbox (id) WHERE state = 'waiting';
CREATE TABLE cover (
  place TEXT NOT NULL,
  since INTEGER NOT NULL,
  layers INTEGER NOT NULL,
  PRIMARY KEY (place, since)
) WITHOUT ROWID;
CREATE TABLE action (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  said_at INTEGER NOT NULL,
  verb TEXT NOT NULL,
  place TEXT NOT NULL,
  layers INTEGER NOT NULL,
  notice INTEGER NOT NULL
);
CREATE TABLE mark (
  name TEXT PRIMARY KEY,
  value INTEGER NOT NULL
) WITHOUT ROWID;

INSERT INTO series VALUES (1, 'yard-probe', 'yard', 1, 1776016800, 3250);
INSERT INTO series VALUES (2, 'yard-probe', 'yard', 2, 1776016800, 81000);
INSERT INTO recent VALUES (1776016800, 1, 3250);
INSERT INTO recent VALUES (1776016800, 2, 81000);
INSERT INTO doubtful VALUES (1776016860, 1, -127.0, 'outside -60 to 70 °C');
INSERT INTO doubtful VALUES (1776016920, 1, 85.0, 'outside -60 to 70 °C');
INSERT INTO doubtful VALUES (1776016800, 2, 80.0, 'another reading stands at this second');
INSERT INTO night VALUES ('north-frame', 20555, 1.5, 1775966400);
INSERT INTO night VALUES ('north-frame', 20556, 0.5, 1776052800);
INSERT INTO night VALUES ('yard', 20556, -1.25, 1776052800);
INSERT INTO outlook_state VALUES ('yard', '{"version":1}');
INSERT INTO cover VALUES ('north-frame', 1776016800, 2);
INSERT INTO action (said_at, verb, place, layers, notice) VALUES (1776016800, 'cover', 'north-frame', 2, 0);
INSERT INTO mark VALUES ('now', 1776016920);
PRAGMA application_id = 1382640997;
PRAGMA user_version = 1;
