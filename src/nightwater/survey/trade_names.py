"""Words of the trade for our columns: for suggestions only.

Generic words, common practice, no source. None is ever taken without being told.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from nightwater.ground.columns import Table
from nightwater.survey.unit_words import parted
from nightwater.units import UNITS

_NAMES: Final = ("name", "title", "description", "tag", "no", "number")
_FLOW: Final = ("flow", "flow_rate", "discharge", "q")
_PRESSURE: Final = ("pressure", "press", "operating_pressure", "working_pressure")
_STATION: Final = ("sta", "stn", "station", "station_no", "station_number", "sta_no", "stn_no",
                   "station_name", "zone", "zone_no")  # fmt: skip
_NOZZLE: Final = ("nozzle", "noz", "nozzle_size", "nozzle_no", "nozzle_number", "nozzle_type",
                  "nozzle_set")  # fmt: skip

TRADE_NAMES: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {
    "heads": {
        "id": ("head", "head_no", "head_id", "head_number", "sprinkler", "sprinkler_no",
               "sprinkler_id", "sprinkler_number"),
        "station": _STATION,
        "nozzle": _NOZZLE,
        "area": ("area_id", "area_name", "turf"),
        "arc_deg": ("arc", "arc_setting", "arc_angle", "sector", "sweep", "pattern"),
        "bearing_deg": ("azimuth", "heading", "direction", "orientation", "aim", "bearing"),
        "spacing_m": ("spacing", "head_spacing", "distance_to_next"),
        "row_m": ("row", "row_spacing", "row_distance"),
        "pressure_kpa": (*_PRESSURE, "head_pressure"),
        "measured_flow_l_s": (*_FLOW, "measured_flow"),
        "elevation_m": ("elev", "elevation", "altitude", "ground_level", "z"),
        "condition": ("state", "status"),
    },
    "nozzles": {
        "id": (*_NOZZLE, "nozzle_id", "size"),
        "radius_m": ("throw", "radius", "reach", "range", "throw_radius", "distance_of_throw"),
        "flow_l_s": _FLOW,
        "pressure_kpa": (*_PRESSURE, "nozzle_pressure", "reference_pressure"),
        "rotation_s": ("rotation", "rotation_time", "turn_time", "time_of_turn"),
    },
    "stations": {
        "label": _STATION,
        "controller": ("controller_no", "controller_name", "satellite", "path", "field_controller"),
        "output": ("address", "output_no", "decoder", "decoder_address", "terminal"),
        "heads_listed": ("no_of_heads", "number_of_heads", "head_count", "heads_count", "qty"),
        "heads": ("head_list", "head_nos", "sprinklers"),
        "flow_listed_l_s": (*_FLOW, "station_flow"),
        "max_run_min": ("max_run", "max_run_time", "longest_run"),
    },
    "controllers": {
        "max_heads_on": ("max_on", "max_stations", "simultaneous", "heads_at_once"),
        "location": ("place", "where"),
    },
    "areas": {
        "kind": ("type", "surface", "feature", "class", "turf_type", "use"),
        "hole": ("hole_no", "hole_number"),
        "grass": ("grass_type", "turf"),
        "soil": ("soil_type", "texture", "soil_texture"),
        "slope_pct": ("slope", "gradient"),
        "root_depth_mm": ("root_depth", "rooting_depth", "root_zone_depth"),
        "intake_mm_h": ("intake", "infiltration", "intake_rate", "infiltration_rate"),
    },
    "holes": {"number": ("hole", "hole_no", "hole_number", "no", "number")},
    "pipes": {
        "kind": ("type", "class"),
        "diameter_mm": ("dia", "diam", "diameter", "inside_diameter", "bore", "size", "pipe_size"),
        "material": ("mat", "pipe_material"),
        "hazen_williams_c": ("c", "c_factor", "hazen_williams", "roughness"),
        "installed_year": ("year", "year_laid", "installed", "laid"),
    },
    "valves": {
        "kind": ("type", "valve_type"),
        "setting_kpa": ("setting", "set_pressure", "downstream_pressure", *_PRESSURE),
        "open": ("state", "status", "position"),
    },
    "pumps": {
        "capacity_l_s": ("capacity", *_FLOW),
        "set_pressure_kpa": ("setpoint", "set_point", "set_pressure", *_PRESSURE),
        "head_m": ("head", "total_head", "tdh", "total_dynamic_head"),
    },
    "sources": {"kind": ("type",), "allocation_m3": ("allocation", "quota", "permit")},
    "meters": {"serial": ("serial_no", "serial_number", "s_n")},
    "gauges": {"kind": ("type",), "wind_height_m": ("height", "wind_height", "mast_height")},
}  # fmt: skip


def _only_of_quantity(table: Table, unit: str) -> str | None:
    fitting = [c.name for c in table.columns if c.quantity == UNITS[unit].quantity]
    return fitting[0] if len(fitting) == 1 else None


def trade_match(theirs: str, table: Table) -> tuple[str, str | None] | None:
    """Our column (or "id") that a header means in the trade, and the unit it names.

    Returns:
        None where no word fits, or where the unit it names cannot be the column's.
    """
    base, unit = parted(theirs)
    if not base and unit is not None:
        alone = _only_of_quantity(table, unit)
        return (alone, unit) if alone is not None else None
    for ours, names in _all_names(table).items():
        if base not in names:
            continue
        column = table.by_name.get(ours)
        quantity = column.quantity if column is not None else None
        if unit is None or UNITS[unit].quantity == quantity:
            return ours, unit
    return None


def _all_names(table: Table) -> dict[str, tuple[str, ...]]:
    names = dict(TRADE_NAMES.get(table.name, {}))
    if "label" in table.by_name:
        names["label"] = (*names.get("label", ()), *_NAMES)
    return names
