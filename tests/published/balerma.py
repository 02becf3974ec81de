"""A real irrigation district as a record of ours: every demand node a head on its own station.

The file is a diagram: its pipes are not drawn as long as it says they are. In the record the
drawn length counts, so each pipe goes in teeth from node to node until it is as long as stated.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, box

from nightwater.ground.record import Ground, empty, ground_from
from nightwater.ground.running_tables import HOLDS
from nightwater.ground.settings import NightRules, Settings, Site
from nightwater.night.plan import StationSum
from nightwater.survey.network_file import NetworkFile
from nightwater.units import KPA_PER_M_WATER, UnitSystem

CRS = "EPSG:32630"
SCALE = 1.25  # metres of a unit of the diagram: no pipe is then drawn longer than it is
TOOTH_M = 0.7
LEAD_M = 1.0
GIVEN_KPA = 100.0  # a source's level is told as this pressure at a pump so much lower
DESIGN_M = 20.0
FLOOR_M = 20.0
GROUND_M2 = 40.0 * 30.0  # that a head answers for
RUN_MIN = (24, 31, 38, 45, 60)  # in turn, so that stations do not all change at once
_HW = 10.667  # head loss [m] = 10.667 L Q^1.852 / (C^1.852 d^4.871), Q in m3/s and d in m


@dataclass(frozen=True)
class District:
    """The record, what its stations ask, and the rules of its night."""

    ground: Ground
    sums: tuple[StationSum, ...]
    settings: Settings
    holds: pd.DataFrame


def frame(rows: dict[str, dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def toothed(start: np.ndarray, end: np.ndarray, length_m: float) -> LineString:
    """A line of a stated length between two places: straight at both ends, in even teeth between.

    The straight ends keep teeth away from the joint, which reaches half a metre.
    """
    way = end - start
    drawn = float(np.hypot(*way))
    teeth = 2 * max(int((drawn - 2 * LEAD_M) / (2 * TOOTH_M)), 1)
    along = np.linspace(LEAD_M, drawn - LEAD_M, teeth + 1)
    slant = (length_m - 2 * LEAD_M) / teeth
    high = np.sqrt(slant**2 - (along[1] - along[0]) ** 2)
    aside = np.where(np.arange(teeth + 1) % 2 == 1, high, 0.0)
    across = np.array([-way[1], way[0]]) / drawn
    inner = start + (along / drawn)[:, None] * way + aside[:, None] * across
    return LineString([start, *inner, end])


def equal_c(file: NetworkFile) -> dict[str, float]:
    """Hazen–Williams C that loses in each pipe what the file's own friction does at full flow.

    The file is of Darcy–Weisbach, 0.0025 mm; a pipe that hardly flows has the others' median.
    """
    step, found = file.steps[0], {}
    for link, flow in zip(file.links, step.flow_l_s, strict=True):
        one, other = link["ends"]
        loss = abs(step.head_m[one] - step.head_m[other])
        bore, water = link["diameter_mm"] / 1000, abs(flow) / 1000
        if loss > 0.01:
            k = _HW * link["length_m"] / bore**4.871
            found[link["id"]] = float(water * (k / loss) ** (1 / 1.852))
    usual = float(np.median(list(found.values())))
    return {link["id"]: found.get(link["id"], usual) for link in file.links}


def places(file: NetworkFile) -> np.ndarray:
    return SCALE * np.array([node["place"] for node in file.nodes], dtype=float)


def _pipes(file: NetworkFile, most_m_s: float) -> pd.DataFrame:
    at, c, rows = places(file), equal_c(file), {}
    for link in file.links:
        one, other = link["ends"]
        line = toothed(at[one], at[other], link["length_m"])
        rows[link["id"]] = {
            "diameter_mm": link["diameter_mm"],
            "hazen_williams_c": c[link["id"]],
            "max_velocity_m_s": most_m_s,
            "start_elevation_m": file.nodes[one]["level_m"],
            "end_elevation_m": file.nodes[other]["level_m"],
            "kind": "main",
            "geometry": MultiLineString([line]),
        }
    return frame(rows)


def taps(file: NetworkFile) -> list[int]:
    """Rows of the nodes where water is taken."""
    water = file.steps[0].outflow_l_s
    return [row for row, node in enumerate(file.nodes)
            if node["kind"] == "junction" and water[row] > 0]  # fmt: skip


def _sum(name: str, flow_l_s: float, run_min: int) -> StationSum:
    rate = flow_l_s / GROUND_M2 * 3600
    return StationSum(
        station=name, area=f"A{name}", kind="rough", need_mm=run_min / 60 * rate, rate_mm_h=rate,
        flow_l_s=flow_l_s, heads=1, du_lq=0.7, multiplier=1.0, multiplier_name="none",
        trim_factor=1.0, extra_min=0.0, trim_reason="", exact_min=float(run_min), floor_min=1,
        run_min=run_min, max_cycle_min=run_min, soak_min=0, cycles_min=(run_min,),
        wetted_m2=GROUND_M2, why_none="",
    )  # fmt: skip


def district(file: NetworkFile, most_m_s: float = 1.5) -> District:
    """The record of the file, with the night that it shall have."""
    at, water, chosen = places(file), file.steps[0].outflow_l_s, taps(file)
    names = {row: f"S{file.nodes[row]['id']}" for row in chosen}
    sources = [row for row, node in enumerate(file.nodes) if node["kind"] != "junction"]
    flow = float(water[chosen[0]])
    nozzle = {"pressure_kpa": DESIGN_M * KPA_PER_M_WATER, "flow_l_s": flow, "radius_m": 20.0}
    tables = {
        "nozzles": frame({"N": nozzle}),
        "controllers": frame({"C": {"max_heads_on": 500}}),
        "pipes": _pipes(file, most_m_s),
        "stations": frame({name: {"label": name, "controller": "C"} for name in names.values()}),
        "areas": frame({
            f"A{name}": {"kind": "rough", "geometry": MultiPolygon([box(*(at[row] - 1),
                                                                      *(at[row] + 1))])}
            for row, name in names.items()
        }),
        "heads": frame({
            f"H{name}": {"station": name, "nozzle": "N", "area": f"A{name}", "spacing_m": 40.0,
                         "row_m": 30.0, "elevation_m": file.nodes[row]["level_m"],
                         "geometry": Point(at[row])}
            for row, name in names.items()
        }),
        "pumps": frame({
            f"P{file.nodes[row]['id']}": {
                "capacity_l_s": -float(water[row]), "set_pressure_kpa": GIVEN_KPA,
                "elevation_m": file.nodes[row]["level_m"] - GIVEN_KPA / KPA_PER_M_WATER,
                "geometry": Point(at[row])}
            for row in sources
        }),
    }  # fmt: skip
    site = Site("The district", 36.7, -2.9, 60.0, "Europe/Madrid", CRS)
    rules = NightRules(
        start="21:00", end="06:00", pump_use=1.0, max_velocity_m_s=most_m_s,
        pressure_within=0.01, least_head_kpa=FLOOR_M * KPA_PER_M_WATER,
    )  # fmt: skip
    settings = Settings(replace(site, units=UnitSystem.METRIC), night=rules)
    sums = tuple(
        _sum(name, float(water[row]), RUN_MIN[number % len(RUN_MIN)])
        for number, (row, name) in enumerate(names.items())
    )
    return District(ground_from(CRS, tables), sums, settings, empty(HOLDS, CRS))
