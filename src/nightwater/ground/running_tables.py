"""The tables that grow day by day: weather, exceptions, nights, logs, audits.

`nightwater.ground.tables` takes them in; no revision changes them.
"""

from __future__ import annotations

from typing import Final

from nightwater.ground.columns import (
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

WEATHER: Final = Table(
    "weather",
    "Observed or forecast weather of one day or hour.",
    (
        link("gauge", "The gauge it comes from.", "gauges"),
        choice("step", "What the row covers.", ("day", "hour"), required=True),
        text("time", "Local date (day), or UTC instant at the hour's start.", required=True),
        number("tmax_c", "Highest air temperature.", "temperature", -60, 60),
        number("tmin_c", "Lowest air temperature.", "temperature", -60, 60),
        number("temp_c", "Mean air temperature of the hour.", "temperature", -60, 60),
        number("rh_max_pct", "Highest relative humidity.", "share", 0, 105),
        number("rh_min_pct", "Lowest relative humidity.", "share", 0, 105),
        number("rh_pct", "Relative humidity of the hour.", "share", 0, 105),
        number("dew_c", "Dew point.", "temperature", -70, 40),
        number("wind_m_s", "Mean wind at the sensor's height.", "speed", 0, 60),
        number("wind_height_m", "Height of the wind sensor.", "length", 0.5, 50),
        number("solar_mj_m2", "Solar radiation of the day.", "radiation", 0, 45),
        number("solar_w_m2", "Mean solar radiation of the hour.", "irradiance", 0, 1500),
        number("rain_mm", "Rain.", "depth", 0, 500),
        choice("origin", "Where the numbers come from.", ("observed", "forecast", "typical")),
    ),
    running=True,
)
READINGS: Final = Table(
    "readings",
    "A soil-moisture reading.",
    (
        link("area", "Where it was taken.", "areas"),
        Column("time", Kind.INSTANT, "When.", required=True),
        number("vwc_pct", "Volumetric water content.", "share", 0, 80, required=True),
        number("depth_mm", "Probe depth.", "depth", 10, 1000),
        text("meter", "Which instrument."),
        text("author", "Who took it."),
    ),
    Shape.POINT,
    running=True,
)
NOTES: Final = Table(
    "notes",
    "Something seen on the course.",
    (
        text("subject", "What it is about, as table:id."),
        Column("time", Kind.INSTANT, "When.", required=True),
        text("author", "Who wrote it.", required=True),
        text("text", "What was seen.", required=True),
    ),
    Shape.POINT,
    running=True,
)
JOBS: Final = Table(
    "jobs",
    "Work to be done on the ground.",
    (
        text("subject", "What it is about, as table:id."),
        text("task", "What to do.", required=True),
        choice("state", "How far it is.", ("open", "done", "proved"), required=True),
        text("assigned_to", "Who does it."),
        Column("opened", Kind.INSTANT, "When it was opened."),
        Column("closed", Kind.INSTANT, "When it was done."),
    ),
    running=True,
)


def _ended_early(end: Kind) -> tuple[Column, ...]:
    """What is kept when somebody ends a trim or hold early; its end itself becomes the new one."""
    return (
        Column("meant_until", end, "Its end before somebody ended it early."),
        Column("ended", Kind.INSTANT, "When it was ended early."),
        text("ended_by", "Who ended it early."),
        text("ended_why", "Why it was ended early."),
    )


TRIMS: Final = Table(
    "trims",
    "A hand change to an area or station, with author, reason and last night.",
    (
        text("subject", "What it changes, as table:id; 'map' for a drawn patch.", required=True),
        number("factor", "Times the minutes.", None, 0, 5),
        number("extra_min", "Minutes added.", "duration", -120, 240),
        text("reason", "Why.", required=True),
        text("author", "Who.", required=True),
        Column("first_night", Kind.DATE, "First night it holds.", required=True),
        Column("last_night", Kind.DATE, "Last night it holds.", required=True),
        *_ended_early(Kind.DATE),
    ),
    Shape.POLYGON,
    running=True,
)
HOLDS: Final = Table(
    "holds",
    "Do not water here, from–to, with the reason; what it keeps back stays in the account.",
    (
        text("subject", "What it holds, as table:id, or 'course'.", required=True),
        choice(
            "cause",
            "Kind of hold.",
            ("rain", "wind", "frost", "chemical", "event", "supply", "people", "other"),
            required=True,
        ),
        text("reason", "Why.", required=True),
        text("author", "Who.", required=True),
        Column("start", Kind.INSTANT, "From.", required=True),
        Column("end", Kind.INSTANT, "To.", required=True),
        *_ended_early(Kind.INSTANT),
    ),
    running=True,
)
DISMISSALS: Final = Table(
    "dismissals",
    "A finding that somebody has looked at and lets be, until what it says changes.",
    (
        text("code", "The rule that told it.", required=True),
        text("subject", "What it is about, as table:id.", required=True),
        text("message_digest", "SHA-256 of its message: another message is open.", required=True),
        text("reason", "Why it may be.", required=True),
        text("author", "Who.", required=True),
        Column("time", Kind.INSTANT, "When.", required=True),
        text("restored_by", "Who opened it again."),
        Column("restored", Kind.INSTANT, "When it was opened again."),
    ),
    running=True,
)
PHOTOS: Final = Table(
    "photos",
    "A photo of something in the ground; one that is withdrawn stays, with who and why.",
    (
        text("subject", "What it shows, as table:id.", required=True),
        text("text", "What is to be seen, in a line of words.", required=True),
        text("author", "Who added it.", required=True),
        Column("time", Kind.INSTANT, "When it was added.", required=True),
        text("digest", "Name of its pixels in the file: SHA-256 of the kept JPEG.", required=True),
        whole("width_px", "Columns of the kept photo.", 1, 4096, required=True),
        whole("height_px", "Rows of the kept photo.", 1, 4096, required=True),
        text("withdrawn_by", "Who withdrew it."),
        Column("withdrawn", Kind.INSTANT, "When it was withdrawn."),
        text("withdrawn_why", "Why it was withdrawn."),
    ),
    running=True,
)
NIGHTS: Final = Table(
    "nights",
    "One plan for one date; immutable once approved, a later change is a new edition.",
    (
        Column("night", Kind.DATE, "Date of the evening it starts.", required=True),
        whole("edition", "1, 2 … for the same date.", 1, 999, required=True),
        choice("state", "Draft or frozen.", ("draft", "approved", "replaced"), required=True),
        Column("made", Kind.INSTANT, "When it was planned.", required=True),
        text("approved_by", "Who approved it."),
        Column("approved", Kind.INSTANT, "When it was approved."),
        Column("plan", Kind.DOCUMENT, "The whole night.", required=True),
        Column("proof", Kind.DOCUMENT, "What the log and the meters say, once known."),
    ),
    running=True,
)
COMMANDS: Final = Table(
    "commands",
    "A line of the command log.",
    (
        link("night", "The night it belongs to.", "nights", required=True),
        link("station", "Which station.", "stations"),
        Column("time", Kind.INSTANT, "When.", required=True),
        choice("event", "What happened.", ("open", "close", "fault"), required=True),
        text("detail", "The field's own words."),
        choice("origin", "A real field or a rehearsal.", ("field", "rehearsal")),
    ),
    running=True,
)
SAMPLES: Final = Table(
    "samples",
    "A reading of a meter series.",
    (
        link("night", "The night it belongs to.", "nights"),
        link("meter", "Which meter.", "meters"),
        Column("time", Kind.INSTANT, "When the minute begins.", required=True),
        number("flow_l_s", "Flow.", "flow", 0, 5000),
        number("pressure_kpa", "Pressure at the pump.", "pressure", 0, 3000),
        number("power_kw", "Power drawn.", "power", 0, 5000),
        choice("origin", "A real field or a rehearsal.", ("field", "rehearsal")),
    ),
    running=True,
)
AUDITS: Final = Table(
    "audits",
    "A catch-can audit: cans set out while heads ran.",
    (
        LABEL,
        link("area", "The area that was audited.", "areas"),
        text("stations", "Ids of the stations that ran, parted by spaces."),
        choice("state", "How far it is.", ("planned", "measured", "used"), required=True),
        Column("time", Kind.INSTANT, "When the heads ran."),
        number("run_min", "Time the heads ran over the cans.", "duration", 0.1, 600),
        number("throat_m2", "Opening of one can.", "area", 1e-4, 1.0),
        number("wind_m_s", "Mean wind while they ran.", "speed", 0, 30),
        number("wind_from_deg", "Where the wind came from.", "angle", 0, 360),
        number("pressure_kpa", "Pressure at a head while they ran.", "pressure", 20, 1500),
        text("author", "Who measured.", required=True),
        text("text", "What else was seen."),
        text("earlier", "What was recorded before, by whom and when; one line a correction."),
        text("used_in", "The revision that took it into the record."),
    ),
    running=True,
)
CANS: Final = Table(
    "cans",
    "One can of an audit.",
    (
        LABEL,
        link("audit", "The audit it belongs to.", "audits", required=True),
        number("caught_ml", "What it caught, in millilitres.", None, 0, 5000),
        text("left_out", "Why it does not count; empty where it counts."),
        text("earlier", "What was recorded before, by whom and when; one line a correction."),
    ),
    Shape.POINT,
    running=True,
)
COLUMN_MATCHES: Final = Table(
    "column_matches",
    "What was said of the columns of a file, kept for the next file with the same header.",
    (
        text("source", "Digest of the file's header names.", required=True),
        text("fills", "Which table such a file fills.", required=True),
        Column("columns", Kind.DOCUMENT, "Their columns → ours.", required=True),
        Column("units", Kind.DOCUMENT, "Their columns → unit.", required=True),
        Column("fixed", Kind.DOCUMENT, "Our columns → the value of every row.", required=True),
        text("author", "Who said it.", required=True),
        Column("time", Kind.INSTANT, "When it was accepted.", required=True),
    ),
    running=True,
)
RUNNING: Final = (
    WEATHER,
    READINGS,
    NOTES,
    JOBS,
    TRIMS,
    HOLDS,
    DISMISSALS,
    PHOTOS,
    NIGHTS,
    COMMANDS,
    SAMPLES,
    AUDITS,
    CANS,
    COLUMN_MATCHES,
)
