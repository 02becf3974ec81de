"""Every table of the course file, declared once.

The file's schema, import matching, validation, exports, docs and the JSON Schema
are derived from `TABLES`; nothing else lists columns.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from nightwater.ground.columns import (
    EVIDENCE,
    LABEL,
    Column,
    Kind,
    Shape,
    Table,
    choice,
    link,
    number,
    text,
    whole,
)
from nightwater.ground.running_tables import RUNNING

AREA_KINDS: Final = (
    "green",
    "tee",
    "approach",
    "fairway",
    "rough",
    "practice",
    "grounds",
    "native",
    "bunker",
    "water",
    "path",
    "building",
)
WATERED_KINDS: Final = AREA_KINDS[:7]
HARD_KINDS: Final = ("path", "building")  # water there wets people and walls
DRY_KINDS: Final = ("bunker", "water", *HARD_KINDS)  # often drawn upon the turf around them
GRASSES: Final = ("cool_season", "warm_season", "warm_overseeded")
SOILS: Final = (
    "sand",
    "loamy_sand",
    "sandy_loam",
    "loam",
    "silt_loam",
    "silty_clay_loam",
    "clay_loam",
    "clay",
)
SPRAY_PROFILES: Final = ("triangle", "ellipse", "doughnut", "trapezoid", "uniform", "measured")
_EVIDENCE: Final = choice("evidence", "How well the row is known.", EVIDENCE)

AREAS: Final = Table(
    "areas",
    "A piece of turf with one need, or a bunker, water, native ground, path or building.",
    (
        LABEL,
        choice("kind", "What kind of ground it is.", AREA_KINDS, required=True),
        link("hole", "The hole it belongs to.", "holes"),
        choice("grass", "Which crop coefficients apply.", GRASSES),
        text("species", "Grasses and mowing height, in words."),
        choice("soil", "Texture class of the root zone.", SOILS),
        number("slope_pct", "Typical ground slope.", "share", 0, 60),
        number("area_factor", "Shade, exposure, mowing: times the coefficient.", None, 0.2, 2.0),
        text("area_factor_reason", "Why the area factor is not 1."),
        number("root_depth_mm", "Depth of roots that counts in the account.", "depth", 20, 1500),
        number("available_water_mm_m", "Water between field capacity and wilting.", None, 20, 300),
        number("allowed_depletion_pct", "Share of the store that may be used.", "share", 5, 90),
        number("target_depletion_pct", "Share left unfilled after watering.", "share", 0, 80),
        number("curve_number", "Runoff curve number (USDA TR-55).", None, 30, 100),
        number("intake_mm_h", "Steady intake of the soil.", "rate", 0.5, 500),
        number("surface_storage_mm", "Water the surface holds before it runs.", "depth", 0, 25),
        number("du_lq", "Low-quarter distribution uniformity, 0 to 1.", None, 0.1, 1.0),
        number("efficiency", "Application efficiency, 0 to 1.", None, 0.2, 1.0),
        number("wetted_m2", "Ground wetted by its heads, if declared.", "area", 1, 2e6),
        _EVIDENCE,
    ),
    Shape.POLYGON,
)
HOLES: Final = Table(
    "holes",
    "The line of play of a hole, from tee to green.",
    (
        LABEL,
        whole("number", "Number on the card.", 1, 54),
        whole("par", "Strokes on the card.", 3, 6),
        _EVIDENCE,
    ),
    Shape.LINE,
)
NOZZLES: Final = Table(
    "nozzles",
    "A nozzle at its reference pressure.",
    (
        LABEL,
        number("pressure_kpa", "Reference pressure.", "pressure", 50, 1200, required=True),
        number("flow_l_s", "Flow at the reference pressure.", "flow", 0.005, 10, required=True),
        number("radius_m", "Throw at the reference pressure.", "length", 0.5, 40, required=True),
        number("flow_exponent", "Flow goes with pressure to this power.", None, 0.3, 0.6),
        number("rotation_s", "Time of one full turn, in seconds.", None, 0, 900),
        choice("profile", "How its rate falls with distance.", SPRAY_PROFILES),
        text("leg", "Measured rates along one leg, as 'm:mm/h' pairs parted by spaces."),
        text("performance", "Other pressures, as 'kPa:L/s:m' triples parted by spaces."),
        number("trajectory_deg", "Angle of its jet over level ground.", "angle", 0, 60),
        number("height_m", "Height of the nozzle over the ground.", "length", 0, 4),
    ),
)
HEADS: Final = Table(
    "heads",
    "A sprinkler head in the ground.",
    (
        LABEL,
        link("station", "The station that fires it.", "stations"),
        link("nozzle", "Its nozzle.", "nozzles"),
        link("area", "The area it waters, where geometry cannot tell.", "areas"),
        number("arc_deg", "Sector it wets; 360 is a full circle.", "angle", 10, 360),
        number("bearing_deg", "Middle of the sector, clockwise from north.", "angle", 0, 360),
        number("spacing_m", "Distance to the next head along the row.", "length", 1, 40),
        number("row_m", "Distance between rows.", "length", 1, 40),
        number("pressure_kpa", "Pressure at the head while it runs.", "pressure", 50, 1200),
        number("measured_flow_l_s", "Flow measured here; wins over the nozzle.", "flow", 0.005, 10),
        number("elevation_m", "Ground level.", "length", -450, 6000),
        choice(
            "condition",
            "State when last seen.",
            ("good", "low", "tilted", "worn", "broken", "unknown"),
        ),
        number(
            "measured_radius_m", "Throw measured here; wins over the nozzle.", "length", 0.5, 40
        ),
        number("tilt_deg", "How far it leans from upright.", "angle", 0, 30),
        number("tilt_towards_deg", "Where it leans to, clockwise from north.", "angle", 0, 360),
        Column(
            "regulated",
            Kind.YES_NO,
            "Whether its body holds the nozzle to its pressure; yes where nothing is said.",
        ),
        _EVIDENCE,
    ),
    Shape.POINT,
)
CONTROLLERS: Final = Table(
    "controllers",
    "A field controller or two-wire path: what shares one limit of stations at once.",
    (
        LABEL,
        whole("max_heads_on", "Heads it may hold open at once.", 1, 500),
        text("location", "Where it stands."),
        _EVIDENCE,
    ),
)
STATIONS: Final = Table(
    "stations",
    "What the control can switch on its own.",
    (
        LABEL,
        link("controller", "Controller or path that switches it.", "controllers"),
        whole("output", "Output or address on it.", 0, 100000),
        whole("heads_listed", "Heads it drives, by the list.", 0, 60),
        text("heads", "Ids or labels of its heads, by the list, parted by spaces or semicolons."),
        number("flow_listed_l_s", "Its flow, by the list.", "flow", 0, 60),
        whole("max_run_min", "Longest run allowed in one night.", 1, 600),
        _EVIDENCE,
    ),
)
PIPES: Final = Table(
    "pipes",
    "A length of pipe.",
    (
        LABEL,
        choice("kind", "Its part in the network.", ("header", "main", "loop", "spur", "lateral")),
        number("diameter_mm", "Inside diameter.", "depth", 10, 1500, required=True),
        text("material", "PVC, HDPE, steel …"),
        number("hazen_williams_c", "Roughness coefficient.", None, 60, 160),
        number("max_velocity_m_s", "Velocity limit, if not the course's.", "speed", 0.3, 4),
        whole("installed_year", "Year it was laid.", 1900, 2100),
        number("start_elevation_m", "Ground level at its first point.", "length", -450, 6000),
        number("end_elevation_m", "Ground level at its last point.", "length", -450, 6000),
        _EVIDENCE,
    ),
    Shape.LINE,
)
VALVES: Final = Table(
    "valves",
    "A valve or quick coupler in the network.",
    (
        LABEL,
        choice(
            "kind",
            "What it is for.",
            ("isolation", "drain", "air", "pressure_reducing", "quick_coupler"),
            required=True,
        ),
        number("setting_kpa", "Downstream pressure of a reducing valve.", "pressure", 0, 1500),
        Column("open", Kind.YES_NO, "Whether it stands open in normal running."),
        _EVIDENCE,
    ),
    Shape.POINT,
)
PUMPS: Final = Table(
    "pumps",
    "A pump station, or one pump of it, feeding the network.",
    (
        LABEL,
        number("capacity_l_s", "Flow it can carry all night.", "flow", 0.1, 2000, required=True),
        number("set_pressure_kpa", "Pressure it holds.", "pressure", 50, 2000),
        number("head_m", "Total dynamic head at capacity.", "length", 1, 400),
        number("pump_efficiency", "Water power over shaft power, 0 to 1.", None, 0.2, 0.95),
        number("motor_efficiency", "Shaft power over power drawn, 0 to 1.", None, 0.3, 1.0),
        number("ramp_l_s_min", "Fastest change of flow, per minute.", None, 0.1, 1000),
        text("curve", "Head against flow at full speed, as 'L/s:m' pairs parted by spaces."),
        text("efficiency_curve", "Efficiency against flow, as 'L/s:share' pairs, share 0 to 1."),
        Column("variable_speed", Kind.YES_NO, "Whether a drive turns it slower when less will do."),
        whole("max_starts_h", "Starts that its motor bears in an hour.", 1, 60),
        number("elevation_m", "Level at which its pressure is read.", "length", -450, 6000),
        link("source", "The source it draws from; empty is the nearest.", "sources"),
        _EVIDENCE,
    ),
    Shape.POINT,
)
SOURCES: Final = Table(
    "sources",
    "Where water comes from, and how much may be taken.",
    (
        LABEL,
        choice("kind", "What it is.", ("pond", "well", "canal", "river", "mains", "reclaimed")),
        number("allocation_m3", "Water that may be taken in a period.", "volume", 0, 1e8),
        Column("period_start", Kind.DATE, "First day of the period."),
        Column("period_end", Kind.DATE, "Last day of the period."),
        number("used_before_m3", "Taken in the period before the first night.", "volume", 0, 1e8),
        number("price_per_m3", "Money for a cubic metre.", None, 0, 100),
        number("level_m", "Level of its water in normal running.", "length", -500, 6000),
        number("pressure_kpa", "Pressure it gives by itself at its place.", "pressure", 0, 2000),
        _EVIDENCE,
    ),
    Shape.POINT,
)
METERS: Final = Table(
    "meters",
    "A flow meter.",
    (
        LABEL,
        link("source", "The source it measures.", "sources"),
        text("serial", "Serial number on its plate."),
        Column("calibrated_on", Kind.DATE, "Day of the last calibration."),
        _EVIDENCE,
    ),
    Shape.POINT,
)
GAUGES: Final = Table(
    "gauges",
    "A weather station or rain gauge.",
    (
        LABEL,
        choice("kind", "What it measures.", ("weather", "rain"), required=True),
        number("wind_height_m", "Height of the wind sensor.", "length", 0.5, 50),
        text("holes", "Holes whose rain it stands for; empty is all."),
        _EVIDENCE,
    ),
    Shape.POINT,
)
IMAGES: Final = Table(
    "images",
    "A picture of the ground, with its place where it has one.",
    (
        LABEL,
        text("media_type", "Kind of its tiles: image/jpeg or image/png."),
        text("transform", "Nine numbers from (column, row, 1) to (x, y, 1), by rows, as JSON."),
        _EVIDENCE,
        text("picture", "Name of its tiles in the file: a digest of what it shows."),
        whole("width_px", "Columns of the picture.", 1, 100_000),
        whole("height_px", "Rows of the picture.", 1, 100_000),
        choice(
            "transform_kind",
            "How pixels become metres.",
            ("similarity", "affine", "projective"),
        ),
        text(
            "control_points", "Pairs column, row, x, y it was placed by, with residuals, as JSON."
        ),
        text("placed_by", "Who placed it."),
        Column("placed", Kind.INSTANT, "When it was placed."),
    ),
)

TABLES: Final[Mapping[str, Table]] = {
    table.name: table
    for table in (
        HOLES,
        AREAS,
        NOZZLES,
        CONTROLLERS,
        STATIONS,
        HEADS,
        PIPES,
        VALVES,
        PUMPS,
        SOURCES,
        METERS,
        GAUGES,
        IMAGES,
        *RUNNING,
    )
}
GROUND_TABLES: Final = tuple(name for name, table in TABLES.items() if not table.running)
RUNNING_TABLES: Final = tuple(name for name, table in TABLES.items() if table.running)
