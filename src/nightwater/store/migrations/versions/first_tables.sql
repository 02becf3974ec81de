CREATE TABLE holes (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    number INTEGER,
    par INTEGER,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom MULTILINESTRING,
    UNIQUE (id)
);;
CREATE TABLE areas (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT NOT NULL CHECK ("kind" IN ('green', 'tee', 'approach', 'fairway', 'rough', 'practice', 'grounds', 'native', 'bunker', 'water')),
    hole TEXT,
    grass TEXT CHECK ("grass" IN ('cool_season', 'warm_season', 'warm_overseeded')),
    species TEXT,
    soil TEXT CHECK ("soil" IN ('sand', 'loamy_sand', 'sandy_loam', 'loam', 'silt_loam', 'silty_clay_loam', 'clay_loam', 'clay')),
    slope_pct DOUBLE,
    area_factor DOUBLE,
    area_factor_reason TEXT,
    root_depth_mm DOUBLE,
    available_water_mm_m DOUBLE,
    allowed_depletion_pct DOUBLE,
    target_depletion_pct DOUBLE,
    curve_number DOUBLE,
    intake_mm_h DOUBLE,
    surface_storage_mm DOUBLE,
    du_lq DOUBLE,
    efficiency DOUBLE,
    wetted_m2 DOUBLE,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom MULTIPOLYGON,
    UNIQUE (id)
);;
CREATE TABLE nozzles (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    pressure_kpa DOUBLE NOT NULL,
    flow_l_s DOUBLE NOT NULL,
    radius_m DOUBLE NOT NULL,
    flow_exponent DOUBLE,
    rotation_s DOUBLE,
    UNIQUE (id)
);;
CREATE TABLE controllers (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    max_heads_on INTEGER,
    location TEXT,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
);;
CREATE TABLE stations (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    controller TEXT,
    output INTEGER,
    heads_listed INTEGER,
    heads TEXT,
    flow_listed_l_s DOUBLE,
    max_run_min INTEGER,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
);;
CREATE TABLE heads (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    station TEXT,
    nozzle TEXT,
    area TEXT,
    arc_deg DOUBLE,
    bearing_deg DOUBLE,
    spacing_m DOUBLE,
    row_m DOUBLE,
    pressure_kpa DOUBLE,
    measured_flow_l_s DOUBLE,
    elevation_m DOUBLE,
    condition TEXT CHECK ("condition" IN ('good', 'low', 'tilted', 'worn', 'broken', 'unknown')),
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom POINT,
    UNIQUE (id)
);;
CREATE TABLE pipes (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT CHECK ("kind" IN ('header', 'main', 'loop', 'spur', 'lateral')),
    diameter_mm DOUBLE NOT NULL,
    material TEXT,
    hazen_williams_c DOUBLE,
    max_velocity_m_s DOUBLE,
    installed_year INTEGER,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom MULTILINESTRING,
    UNIQUE (id)
);;
CREATE TABLE valves (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT NOT NULL CHECK ("kind" IN ('isolation', 'drain', 'air', 'pressure_reducing', 'quick_coupler')),
    setting_kpa DOUBLE,
    open BOOLEAN CHECK ("open" IN (0, 1)),
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom POINT,
    UNIQUE (id)
);;
CREATE TABLE pumps (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    capacity_l_s DOUBLE NOT NULL,
    set_pressure_kpa DOUBLE,
    head_m DOUBLE,
    pump_efficiency DOUBLE,
    motor_efficiency DOUBLE,
    ramp_l_s_min DOUBLE,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom POINT,
    UNIQUE (id)
);;
CREATE TABLE sources (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT CHECK ("kind" IN ('pond', 'well', 'canal', 'river', 'mains', 'reclaimed')),
    allocation_m3 DOUBLE,
    period_start DATE,
    period_end DATE,
    used_before_m3 DOUBLE,
    price_per_m3 DOUBLE,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom POINT,
    UNIQUE (id)
);;
CREATE TABLE meters (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    source TEXT,
    serial TEXT,
    calibrated_on DATE,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom POINT,
    UNIQUE (id)
);;
CREATE TABLE gauges (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT NOT NULL CHECK ("kind" IN ('weather', 'rain')),
    wind_height_m DOUBLE,
    holes TEXT,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom POINT,
    UNIQUE (id)
);;
CREATE TABLE images (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    media_type TEXT,
    transform TEXT,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
);;
CREATE TABLE weather (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    gauge TEXT,
    step TEXT NOT NULL CHECK ("step" IN ('day', 'hour')),
    time TEXT NOT NULL,
    tmax_c DOUBLE,
    tmin_c DOUBLE,
    temp_c DOUBLE,
    rh_max_pct DOUBLE,
    rh_min_pct DOUBLE,
    rh_pct DOUBLE,
    dew_c DOUBLE,
    wind_m_s DOUBLE,
    wind_height_m DOUBLE,
    solar_mj_m2 DOUBLE,
    solar_w_m2 DOUBLE,
    rain_mm DOUBLE,
    origin TEXT CHECK ("origin" IN ('observed', 'forecast', 'typical')),
    UNIQUE (id)
);;
CREATE TABLE readings (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    area TEXT,
    time TEXT NOT NULL,
    vwc_pct DOUBLE NOT NULL,
    depth_mm DOUBLE,
    meter TEXT,
    author TEXT,
    geom POINT,
    UNIQUE (id)
);;
CREATE TABLE notes (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    subject TEXT,
    time TEXT NOT NULL,
    author TEXT NOT NULL,
    text TEXT NOT NULL,
    geom POINT,
    UNIQUE (id)
);;
CREATE TABLE jobs (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    subject TEXT,
    task TEXT NOT NULL,
    state TEXT NOT NULL CHECK ("state" IN ('open', 'done', 'proved')),
    assigned_to TEXT,
    opened TEXT,
    closed TEXT,
    UNIQUE (id)
);;
CREATE TABLE trims (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    subject TEXT NOT NULL,
    factor DOUBLE,
    extra_min DOUBLE,
    reason TEXT NOT NULL,
    author TEXT NOT NULL,
    first_night DATE NOT NULL,
    last_night DATE NOT NULL,
    UNIQUE (id)
);;
CREATE TABLE holds (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    subject TEXT NOT NULL,
    cause TEXT NOT NULL CHECK ("cause" IN ('rain', 'wind', 'frost', 'chemical', 'event', 'supply', 'people', 'other')),
    reason TEXT NOT NULL,
    author TEXT NOT NULL,
    start TEXT NOT NULL,
    "end" TEXT NOT NULL,
    keeps_debt BOOLEAN CHECK ("keeps_debt" IN (0, 1)),
    UNIQUE (id)
);;
CREATE TABLE nights (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    night DATE NOT NULL,
    edition INTEGER NOT NULL,
    state TEXT NOT NULL CHECK ("state" IN ('draft', 'approved', 'replaced')),
    made TEXT NOT NULL,
    approved_by TEXT,
    approved TEXT,
    "plan" TEXT NOT NULL,
    proof TEXT,
    UNIQUE (night, edition),
    UNIQUE (id)
);;
CREATE TRIGGER nights_frozen BEFORE UPDATE ON nights
WHEN OLD.state <> 'draft' AND (NEW.id IS NOT OLD.id OR NEW.night IS NOT OLD.night OR NEW.edition IS NOT OLD.edition OR NEW.made IS NOT OLD.made OR NEW.approved_by IS NOT OLD.approved_by OR NEW.approved IS NOT OLD.approved OR NEW.plan IS NOT OLD.plan OR (NEW.state IS NOT OLD.state
  AND NOT (OLD.state = 'approved' AND NEW.state = 'replaced')))
BEGIN SELECT RAISE(ABORT, 'an approved night is not changed'); END;;
CREATE TRIGGER nights_kept BEFORE DELETE ON nights
WHEN OLD.state <> 'draft'
BEGIN SELECT RAISE(ABORT, 'an approved night is not removed'); END;;
CREATE TABLE settings (
    fid INTEGER NOT NULL,
    id TEXT NOT NULL,
    document TEXT NOT NULL,
    PRIMARY KEY (fid),
    CHECK (fid = 1),
    UNIQUE (id)
);;
CREATE TABLE revisions (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    time TEXT NOT NULL,
    who TEXT NOT NULL,
    why TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('change', 'settings', 'undo')),
    summary TEXT NOT NULL,
    undoes INTEGER,
    change_set TEXT NOT NULL,
    FOREIGN KEY(undoes) REFERENCES revisions (fid)
);;
CREATE TRIGGER revisions_no_update BEFORE UPDATE ON revisions BEGIN SELECT RAISE(ABORT, 'history is not changed'); END;;
CREATE TRIGGER revisions_no_delete BEFORE DELETE ON revisions BEGIN SELECT RAISE(ABORT, 'history is not changed'); END;;
CREATE TABLE commands (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    night TEXT NOT NULL,
    station TEXT,
    time TEXT NOT NULL,
    event TEXT NOT NULL CHECK ("event" IN ('open', 'close', 'fault')),
    detail TEXT,
    origin TEXT CHECK ("origin" IN ('field', 'rehearsal')),
    UNIQUE (id),
    FOREIGN KEY(night) REFERENCES nights (id)
);;
CREATE TABLE samples (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    night TEXT,
    meter TEXT,
    time TEXT NOT NULL,
    flow_l_s DOUBLE,
    pressure_kpa DOUBLE,
    power_kw DOUBLE,
    origin TEXT CHECK ("origin" IN ('field', 'rehearsal')),
    UNIQUE (id),
    FOREIGN KEY(night) REFERENCES nights (id)
);;
