CREATE TABLE areas (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT NOT NULL,
    hole TEXT,
    grass TEXT,
    species TEXT,
    soil TEXT,
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
    evidence TEXT,
    geometry MULTIPOLYGON,
    CHECK ("kind" IN ('green', 'tee', 'approach', 'fairway', 'rough', 'practice', 'grounds', 'native', 'bunker', 'water')),
    CHECK ("grass" IN ('cool_season', 'warm_season', 'warm_overseeded')),
    CHECK ("soil" IN ('sand', 'loamy_sand', 'sandy_loam', 'loam', 'silt_loam', 'silty_clay_loam', 'clay_loam', 'clay')),
    CHECK ("slope_pct" BETWEEN 0 AND 60),
    CHECK ("area_factor" BETWEEN 0.2 AND 2),
    CHECK ("root_depth_mm" BETWEEN 20 AND 1500),
    CHECK ("available_water_mm_m" BETWEEN 20 AND 300),
    CHECK ("allowed_depletion_pct" BETWEEN 5 AND 90),
    CHECK ("target_depletion_pct" BETWEEN 0 AND 80),
    CHECK ("curve_number" BETWEEN 30 AND 100),
    CHECK ("intake_mm_h" BETWEEN 0.5 AND 500),
    CHECK ("surface_storage_mm" BETWEEN 0 AND 25),
    CHECK ("du_lq" BETWEEN 0.1 AND 1),
    CHECK ("efficiency" BETWEEN 0.2 AND 1),
    CHECK ("wetted_m2" BETWEEN 1 AND 2e+06),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE controllers (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    max_heads_on INTEGER,
    location TEXT,
    evidence TEXT,
    CHECK ("max_heads_on" BETWEEN 1 AND 500),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE gauges (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT NOT NULL,
    wind_height_m DOUBLE,
    holes TEXT,
    evidence TEXT,
    geometry POINT,
    CHECK ("kind" IN ('weather', 'rain')),
    CHECK ("wind_height_m" BETWEEN 0.5 AND 50),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE gpkg_spatial_ref_sys (
    srs_name TEXT NOT NULL,
    srs_id INTEGER NOT NULL,
    organization TEXT NOT NULL,
    organization_coordsys_id INTEGER NOT NULL,
    definition TEXT NOT NULL,
    description TEXT,
    PRIMARY KEY (srs_id)
)
--
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
    condition TEXT,
    evidence TEXT,
    geometry POINT,
    CHECK ("arc_deg" BETWEEN 10 AND 360),
    CHECK ("bearing_deg" BETWEEN 0 AND 360),
    CHECK ("spacing_m" BETWEEN 1 AND 40),
    CHECK ("row_m" BETWEEN 1 AND 40),
    CHECK ("pressure_kpa" BETWEEN 50 AND 1200),
    CHECK ("measured_flow_l_s" BETWEEN 0.005 AND 10),
    CHECK ("elevation_m" BETWEEN -450 AND 6000),
    CHECK ("condition" IN ('good', 'low', 'tilted', 'worn', 'broken', 'unknown')),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE holds (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    subject TEXT NOT NULL,
    cause TEXT NOT NULL,
    reason TEXT NOT NULL,
    author TEXT NOT NULL,
    start TEXT NOT NULL,
    "end" TEXT NOT NULL,
    keeps_debt BOOLEAN,
    CHECK ("cause" IN ('rain', 'wind', 'frost', 'chemical', 'event', 'supply', 'people', 'other')),
    UNIQUE (id)
)
--
CREATE TABLE holes (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    number INTEGER NOT NULL,
    par INTEGER,
    evidence TEXT,
    geometry MULTILINESTRING,
    CHECK ("number" BETWEEN 1 AND 54),
    CHECK ("par" BETWEEN 3 AND 6),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE images (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    media_type TEXT,
    transform TEXT,
    evidence TEXT,
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE jobs (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    subject TEXT,
    task TEXT NOT NULL,
    state TEXT NOT NULL,
    assigned_to TEXT,
    opened TEXT,
    closed TEXT,
    CHECK ("state" IN ('open', 'done', 'proved')),
    UNIQUE (id)
)
--
CREATE TABLE meters (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    source TEXT,
    serial TEXT,
    calibrated_on TEXT,
    evidence TEXT,
    geometry POINT,
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE nights (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    night TEXT NOT NULL,
    edition INTEGER NOT NULL,
    state TEXT NOT NULL,
    made TEXT NOT NULL,
    approved_by TEXT,
    approved TEXT,
    "plan" TEXT NOT NULL,
    proof TEXT,
    CHECK ("edition" BETWEEN 1 AND 999),
    CHECK ("state" IN ('draft', 'approved', 'replaced')),
    UNIQUE (id)
)
--
CREATE TABLE notes (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    subject TEXT,
    time TEXT NOT NULL,
    author TEXT NOT NULL,
    text TEXT NOT NULL,
    geometry POINT,
    UNIQUE (id)
)
--
CREATE TABLE nozzles (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    pressure_kpa DOUBLE NOT NULL,
    flow_l_s DOUBLE NOT NULL,
    radius_m DOUBLE NOT NULL,
    flow_exponent DOUBLE,
    rotation_s DOUBLE,
    CHECK ("pressure_kpa" BETWEEN 50 AND 1200),
    CHECK ("flow_l_s" BETWEEN 0.005 AND 10),
    CHECK ("radius_m" BETWEEN 0.5 AND 40),
    CHECK ("flow_exponent" BETWEEN 0.3 AND 0.6),
    CHECK ("rotation_s" BETWEEN 0 AND 900),
    UNIQUE (id)
)
--
CREATE TABLE pipes (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT,
    diameter_mm DOUBLE NOT NULL,
    material TEXT,
    hazen_williams_c DOUBLE,
    max_velocity_m_s DOUBLE,
    installed_year INTEGER,
    evidence TEXT,
    geometry MULTILINESTRING,
    CHECK ("kind" IN ('header', 'main', 'loop', 'spur', 'lateral')),
    CHECK ("diameter_mm" BETWEEN 10 AND 1500),
    CHECK ("hazen_williams_c" BETWEEN 60 AND 160),
    CHECK ("max_velocity_m_s" BETWEEN 0.3 AND 4),
    CHECK ("installed_year" BETWEEN 1900 AND 2100),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
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
    evidence TEXT,
    geometry POINT,
    CHECK ("capacity_l_s" BETWEEN 0.1 AND 2000),
    CHECK ("set_pressure_kpa" BETWEEN 50 AND 2000),
    CHECK ("head_m" BETWEEN 1 AND 400),
    CHECK ("pump_efficiency" BETWEEN 0.2 AND 0.95),
    CHECK ("motor_efficiency" BETWEEN 0.3 AND 1),
    CHECK ("ramp_l_s_min" BETWEEN 0.1 AND 1000),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE readings (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    area TEXT,
    time TEXT NOT NULL,
    vwc_pct DOUBLE NOT NULL,
    depth_mm DOUBLE,
    meter TEXT,
    author TEXT,
    geometry POINT,
    CHECK ("vwc_pct" BETWEEN 0 AND 80),
    CHECK ("depth_mm" BETWEEN 10 AND 1000),
    UNIQUE (id)
)
--
CREATE TABLE revisions (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    time TEXT NOT NULL,
    who TEXT NOT NULL,
    why TEXT NOT NULL,
    summary TEXT NOT NULL,
    undoes TEXT,
    changes TEXT NOT NULL,
    UNIQUE (id)
)
--
CREATE TABLE settings (
    fid INTEGER NOT NULL,
    id TEXT NOT NULL,
    document TEXT NOT NULL,
    PRIMARY KEY (fid),
    UNIQUE (id)
)
--
CREATE TABLE sources (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT,
    allocation_m3 DOUBLE,
    period_start TEXT,
    period_end TEXT,
    used_before_m3 DOUBLE,
    price_per_m3 DOUBLE,
    evidence TEXT,
    geometry POINT,
    CHECK ("kind" IN ('pond', 'well', 'canal', 'river', 'mains', 'reclaimed')),
    CHECK ("allocation_m3" BETWEEN 0 AND 1e+08),
    CHECK ("used_before_m3" BETWEEN 0 AND 1e+08),
    CHECK ("price_per_m3" BETWEEN 0 AND 100),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
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
    evidence TEXT,
    CHECK ("output" BETWEEN 0 AND 100000),
    CHECK ("heads_listed" BETWEEN 0 AND 60),
    CHECK ("flow_listed_l_s" BETWEEN 0 AND 60),
    CHECK ("max_run_min" BETWEEN 1 AND 600),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE trims (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    subject TEXT NOT NULL,
    factor DOUBLE,
    extra_min DOUBLE,
    reason TEXT NOT NULL,
    author TEXT NOT NULL,
    first_night TEXT NOT NULL,
    last_night TEXT NOT NULL,
    CHECK ("factor" BETWEEN 0 AND 5),
    CHECK ("extra_min" BETWEEN -120 AND 240),
    UNIQUE (id)
)
--
CREATE TABLE valves (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    kind TEXT NOT NULL,
    setting_kpa DOUBLE,
    open BOOLEAN,
    evidence TEXT,
    geometry POINT,
    CHECK ("kind" IN ('isolation', 'drain', 'air', 'pressure_reducing', 'quick_coupler')),
    CHECK ("setting_kpa" BETWEEN 0 AND 1500),
    CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    UNIQUE (id)
)
--
CREATE TABLE weather (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    gauge TEXT,
    step TEXT NOT NULL,
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
    origin TEXT,
    CHECK ("step" IN ('day', 'hour')),
    CHECK ("tmax_c" BETWEEN -60 AND 60),
    CHECK ("tmin_c" BETWEEN -60 AND 60),
    CHECK ("temp_c" BETWEEN -60 AND 60),
    CHECK ("rh_max_pct" BETWEEN 0 AND 105),
    CHECK ("rh_min_pct" BETWEEN 0 AND 105),
    CHECK ("rh_pct" BETWEEN 0 AND 105),
    CHECK ("dew_c" BETWEEN -70 AND 40),
    CHECK ("wind_m_s" BETWEEN 0 AND 60),
    CHECK ("wind_height_m" BETWEEN 0.5 AND 50),
    CHECK ("solar_mj_m2" BETWEEN 0 AND 45),
    CHECK ("solar_w_m2" BETWEEN 0 AND 1500),
    CHECK ("rain_mm" BETWEEN 0 AND 500),
    CHECK ("origin" IN ('observed', 'forecast', 'typical')),
    UNIQUE (id)
)
--
CREATE TABLE commands (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    night TEXT NOT NULL,
    station TEXT,
    time TEXT NOT NULL,
    event TEXT NOT NULL,
    detail TEXT,
    origin TEXT,
    CHECK ("event" IN ('open', 'close', 'fault')),
    CHECK ("origin" IN ('field', 'rehearsal')),
    UNIQUE (id),
    FOREIGN KEY(night) REFERENCES nights (id)
)
--
CREATE TABLE gpkg_contents (
    table_name TEXT NOT NULL,
    data_type TEXT NOT NULL,
    identifier TEXT,
    description TEXT,
    last_change TEXT NOT NULL,
    min_x DOUBLE,
    min_y DOUBLE,
    max_x DOUBLE,
    max_y DOUBLE,
    srs_id INTEGER,
    PRIMARY KEY (table_name),
    UNIQUE (identifier),
    FOREIGN KEY(srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
)
--
CREATE TABLE samples (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    night TEXT,
    meter TEXT,
    time TEXT NOT NULL,
    flow_l_s DOUBLE,
    pressure_kpa DOUBLE,
    power_kw DOUBLE,
    origin TEXT,
    CHECK ("flow_l_s" BETWEEN 0 AND 5000),
    CHECK ("pressure_kpa" BETWEEN 0 AND 3000),
    CHECK ("power_kw" BETWEEN 0 AND 5000),
    CHECK ("origin" IN ('field', 'rehearsal')),
    UNIQUE (id),
    FOREIGN KEY(night) REFERENCES nights (id)
)
--
CREATE TABLE gpkg_geometry_columns (
    table_name TEXT NOT NULL,
    column_name TEXT NOT NULL,
    geometry_type_name TEXT NOT NULL,
    srs_id INTEGER NOT NULL,
    z INTEGER NOT NULL,
    m INTEGER NOT NULL,
    PRIMARY KEY (table_name, column_name),
    FOREIGN KEY(table_name) REFERENCES gpkg_contents (table_name),
    FOREIGN KEY(srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
)
--
CREATE TRIGGER nights_frozen BEFORE UPDATE ON nights
WHEN OLD.state <> 'draft' AND (NEW.plan <> OLD.plan OR NEW.night <> OLD.night
  OR NEW.edition <> OLD.edition OR NEW.id <> OLD.id OR NEW.state = 'draft'
  OR NEW.approved_by IS NOT OLD.approved_by OR NEW.approved IS NOT OLD.approved)
BEGIN SELECT RAISE(ABORT, 'an approved night is immutable'); END
--
CREATE TRIGGER nights_kept BEFORE DELETE ON nights WHEN OLD.state <> 'draft'
BEGIN SELECT RAISE(ABORT, 'an approved night is immutable'); END
--
CREATE TRIGGER revisions_kept BEFORE DELETE ON revisions
BEGIN SELECT RAISE(ABORT, 'history is kept'); END
