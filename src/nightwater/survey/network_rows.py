"""An EPANET file as rows of our tables: pipes, valves, pumps, sources, heads."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, UserError, note, warning
from nightwater.ground.columns import Table
from nightwater.pipes.hydraulic_network import HAZEN_WILLIAMS
from nightwater.survey.network_file import NetworkFile, read_network_file
from nightwater.survey.network_out import VALVE_PREFIX
from nightwater.survey.source_files import SourceRows
from nightwater.units import KPA_PER_M_WATER

_OWN_PIECE: Final = re.compile(r"(.+)\.(\d+)$")
_HEAD_KPA: Final = 400.0  # at which an emitter's flow is stated; any pressure says the same
_OUT_OF_SCALE: Final = 0.25  # of the usual ratio of stated to drawn length
_MANY: Final = 0.2  # so large a share of pipes out of scale makes a diagram

Row = dict[str, Any]


def _place(file: NetworkFile, node: int) -> Any:
    at = file.nodes[node]["place"]
    return None if at is None else tuple(at)


def _line(file: NetworkFile, link: Mapping[str, Any]) -> Any:
    ends = [_place(file, node) for node in link["ends"]]
    if None in ends:
        return None
    points = [ends[0], *map(tuple, link["bends"]), ends[1]]
    return shapely.LineString(points) if len(set(points)) > 1 else None


def _middle(file: NetworkFile, link: Mapping[str, Any]) -> Any:
    line = _line(file, link)
    if line is not None:
        return line.interpolate(0.5, normalized=True)
    at = _place(file, link["ends"][0])
    return None if at is None else shapely.Point(at)


def _pipe_row(file: NetworkFile, link: Mapping[str, Any]) -> Row:
    levels = [file.nodes[node]["level_m"] for node in link["ends"]]
    row: Row = {"id": link["id"], "diameter_mm": link["diameter_mm"], "shape": _line(file, link)}
    if file.formula == HAZEN_WILLIAMS:
        row["hazen_williams_c"] = link["roughness"]
    return row | {"start_elevation_m": levels[0], "end_elevation_m": levels[1]}


def _joined_pieces(rows: list[Row]) -> list[Row]:
    """Pieces of our own file as the pipes they were cut from, without the levels made up there."""
    pipes: dict[str, list[Row]] = {}
    for row in rows:
        match = _OWN_PIECE.match(row["id"])
        if match is not None:
            pipes.setdefault(match[1], []).append(row)
    joined = []
    for name, pieces in pipes.items():
        lines = [piece["shape"] for piece in pieces if piece["shape"] is not None]
        shape = shapely.line_merge(shapely.MultiLineString(lines)) if lines else None
        kept = {key: pieces[0].get(key) for key in ("diameter_mm", "hazen_williams_c")}
        joined.append({"id": name, **kept, "shape": shape})
    return joined


def _pipes(file: NetworkFile) -> list[Row]:
    rows = [_pipe_row(file, link) for link in file.links if link["kind"] in ("pipe", "check")]
    return _joined_pieces(rows) if file.own else rows


def _valves(file: NetworkFile) -> list[Row]:
    rows = []
    for link in file.links:
        ours = file.own and link["id"].startswith(VALVE_PREFIX)
        # our own file has a valve for the pressure that pumps hold, which is none in the ground
        if link["kind"] == "reducing" and (ours or not file.own):
            pressure = link["setting_m"] * KPA_PER_M_WATER
            rows.append({"kind": "pressure_reducing", "setting_kpa": pressure, "link": link})
        elif ours and link["kind"] == "pipe":
            rows.append({"kind": "isolation", "open": link["open"], "link": link})
    return [
        {"id": link["id"].removeprefix(VALVE_PREFIX), **row, "shape": _middle(file, link)}
        for row in rows
        for link in (row.pop("link"),)
    ]


def _pumps(file: NetworkFile) -> list[Row]:
    rows = []
    for link in file.links:
        # in our own file the pumps of a feed stand at its node, not where they are
        if link["kind"] != "pump" or file.own:
            continue
        at = _place(file, link["ends"][1])
        row: Row = {"id": link["id"], "shape": None if at is None else shapely.Point(at)}
        if link["curve"]:
            duty = link["curve"][len(link["curve"]) // 2]
            row["capacity_l_s"], row["head_m"] = duty
            row["curve"] = " ".join(f"{flow:.6g}:{head:.6g}" for flow, head in link["curve"])
            row["elevation_m"] = file.nodes[link["ends"][1]]["level_m"]
        rows.append(row)
    return rows


def _points(file: NetworkFile, kinds: tuple[str, ...]) -> list[tuple[Row, Row]]:
    """Nodes of some kinds, with the beginning of their row."""
    found = []
    for row, node in enumerate(file.nodes):
        if node["kind"] in kinds:
            at = _place(file, row)
            start = {"id": node["id"], "shape": None if at is None else shapely.Point(at)}
            found.append((node, start))
    return found


def _sources(file: NetworkFile) -> list[Row]:
    if file.own:
        return []
    stores = _points(file, ("reservoir", "tank"))
    return [start | {"level_m": node["level_m"]} for node, start in stores]


def _heads(file: NetworkFile) -> list[Row]:
    if file.own:
        return []
    return [
        start
        | {
            "elevation_m": node["level_m"],
            "pressure_kpa": _HEAD_KPA,
            "measured_flow_l_s": node["emitter"] * float(np.sqrt(_HEAD_KPA / KPA_PER_M_WATER)),
        }
        for node, start in _points(file, ("junction",))
        if node["emitter"] > 0
    ]


_MAKERS: Final[Mapping[str, Callable[[NetworkFile], list[Row]]]] = {
    "pipes": _pipes,
    "valves": _valves,
    "pumps": _pumps,
    "sources": _sources,
    "heads": _heads,
}


def _is_diagram(file: NetworkFile) -> bool:
    """Whether pipes are drawn out of proportion to the lengths that are stated of them."""
    pairs = [
        (link["length_m"], line.length)
        for link in file.links
        if link["kind"] == "pipe" and (line := _line(file, link)) is not None
    ]
    if not pairs:
        return False
    stated, drawn = np.array(pairs).T
    ratio = stated / drawn
    away = np.abs(ratio / np.median(ratio) - 1) > _OUT_OF_SCALE
    return bool(away.mean() > _MANY)


def _doubts(file: NetworkFile, table: str, name: str) -> list[Finding]:
    if table != "pipes" or file.own:
        return []
    found = []
    if _is_diagram(file):
        found.append(
            warning(
                "network-is-a-diagram",
                f"file:{name}",
                f"{name}: pipes are not drawn in proportion to the lengths stated of them. It is a "
                "diagram, not a map; here the drawn length counts.",
                "Draw the pipes where they lie, and survey that.",
            )
        )
    if file.formula != HAZEN_WILLIAMS:
        found.append(
            note(
                "roughness-not-taken",
                f"file:{name}",
                f"{name} is of the {file.formula} formula; its roughness says nothing about "
                "Hazen–Williams and is not taken.",
                "Enter hazen_williams_c; 140 is used where it is empty.",
            )
        )
    return found


def network_rows(path: Path, table: Table | None) -> SourceRows:
    """The part of an EPANET file that fills a table, in our own columns and units.

    Args:
        path: the file.
        table: pipes, valves, pumps, sources or heads.

    Raises:
        UserError: another table, a file that EPANET refuses, or one with no such thing.
    """
    name = "pipes" if table is None else table.name
    if name not in _MAKERS:
        raise UserError(
            f"{path.name} is a network of pipes. Survey it as one of {', '.join(_MAKERS)}."
        )
    file = read_network_file(path)
    rows = _MAKERS[name](file)
    if not rows:
        raise UserError(f"{path.name} holds no {name} of ours; nothing was read.")
    shapes = tuple(row.pop("shape") for row in rows)
    places = tuple(f"{name.removesuffix('s')} {row['id']}" for row in rows)
    findings = (*file.findings, *_doubts(file, name, path.name))
    cells = pd.DataFrame(rows).astype(object)
    return SourceRows(cells.where(cells.notna(), None), places, shapes, None, False, findings)
