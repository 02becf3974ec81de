"""Reads one EPANET file in a process of its own, because some files end the engine's process.

Run as a script with the file's path; it prints one JSON document. It stands alone: nothing of
this package is imported, so that a stranger's file meets nothing but the engine.
"""

from __future__ import annotations

import ctypes
import json
import os
import sys
import warnings
from pathlib import Path
from typing import Any, Final

from epanet import toolkit

_REPORT: Final = "report.txt"
_TOLD: Final = 8
_KINDS: Final = {
    toolkit.CVPIPE: "check",
    toolkit.PIPE: "pipe",
    toolkit.PUMP: "pump",
    toolkit.PRV: "reducing",
}
_NODES: Final = {toolkit.JUNCTION: "junction", toolkit.RESERVOIR: "reservoir", toolkit.TANK: "tank"}


def _faults() -> list[str]:
    """What the engine's report tells of errors, each with the line of the file that it quotes."""
    report = Path(_REPORT)
    text = report.read_text(errors="replace") if report.exists() else ""
    lines = [" ".join(line.split()) for line in text.splitlines() if line.strip()]
    told = [
        line + (f" {after}" if line.endswith(":") else "")
        for line, after in zip(lines, [*lines[1:], ""], strict=False)
        if line.startswith("Error")
    ]
    return told[:_TOLD]


def _node(project: Any, index: int) -> dict[str, Any]:
    kind = _NODES[toolkit.getnodetype(project, index)]
    value = toolkit.getnodevalue
    row = {
        "id": toolkit.getnodeid(project, index),
        "kind": kind,
        "level_m": value(project, index, toolkit.ELEVATION),
        "emitter": value(project, index, toolkit.EMITTER) if kind == "junction" else 0.0,
        "place": None,
    }
    if kind == "tank":
        row["level_m"] += value(project, index, toolkit.TANKLEVEL)
    try:
        row["place"] = list(toolkit.getcoord(project, index))
    except Exception:  # the toolkit has no other kind: a node without coordinates
        row["place"] = None
    return row


def _curve(project: Any, link: int) -> list[list[float]]:
    """Points of a pump's head curve."""
    try:
        number = toolkit.getheadcurveindex(project, link)
    except Exception:  # a pump of constant power has none
        return []
    if not number:
        return []
    count = toolkit.getcurvelen(project, number)
    return [list(toolkit.getcurvevalue(project, number, place)) for place in range(1, count + 1)]


def _link(project: Any, index: int) -> dict[str, Any]:
    kind = _KINDS.get(toolkit.getlinktype(project, index), "valve")
    value = toolkit.getlinkvalue
    row: dict[str, Any] = {
        "id": toolkit.getlinkid(project, index),
        "kind": kind,
        "ends": [number - 1 for number in toolkit.getlinknodes(project, index)],
        "open": value(project, index, toolkit.INITSTATUS) != 0.0,
        "bends": [
            list(toolkit.getvertex(project, index, place))
            for place in range(1, toolkit.getvertexcount(project, index) + 1)
        ],
    }
    if kind == "pump":
        return row | {"curve": _curve(project, index)}
    row["diameter_mm"] = value(project, index, toolkit.DIAMETER)
    if kind in ("pipe", "check"):
        row["length_m"] = value(project, index, toolkit.LENGTH)
        row["roughness"] = value(project, index, toolkit.ROUGHNESS)
    elif kind == "reducing":
        row["setting_m"] = value(project, index, toolkit.INITSETTING)
    return row


def _zero_bores(links: list[dict[str, Any]]) -> list[str]:
    return [f"pipe '{row['id']}'" for row in links if row.get("diameter_mm", 1.0) < 1e-3]


def _all_values(project: Any, read: Any, what: int, count: int) -> list[float]:
    values = toolkit.doubleArray(count)
    read(project, what, values)
    return list((ctypes.c_double * count).from_address(int(values.cast())))


def _steps(project: Any, nodes: int, links: int) -> list[dict[str, Any]]:
    """Every steady state that the file asks for, in SI."""
    steps = []
    toolkit.openH(project)
    toolkit.initH(project, toolkit.INITFLOW)
    left = 1
    while left > 0:
        time_s = toolkit.runH(project)
        steps.append(
            {
                "time_s": time_s,
                "head_m": _all_values(project, toolkit.getnodevalues, toolkit.HEAD, nodes),
                "outflow_l_s": _all_values(project, toolkit.getnodevalues, toolkit.DEMAND, nodes),
                "flow_l_s": _all_values(project, toolkit.getlinkvalues, toolkit.FLOW, links),
            }
        )
        left = toolkit.nextH(project)
    toolkit.closeH(project)
    return steps


def read(path: str, *, solve: bool) -> dict[str, Any]:
    """What stands in the file, in SI units, or what is wrong with it."""
    project = toolkit.createproject()
    try:
        toolkit.open(project, path, _REPORT, "")
    except Exception as wrong:  # the toolkit has no other kind
        toolkit.close(project)  # only now is the report on the disk
        toolkit.deleteproject(project)
        return {"faults": _faults() or [str(wrong)]}
    formula = int(toolkit.getoption(project, toolkit.HEADLOSSFORM))
    toolkit.setflowunits(project, toolkit.LPS)
    toolkit.setoption(project, toolkit.PRESS_UNITS, toolkit.METERS)  # else valves stay in psi
    nodes = toolkit.getcount(project, toolkit.NODECOUNT)
    links = toolkit.getcount(project, toolkit.LINKCOUNT)
    found: dict[str, Any] = {
        "formula": ["hazen-williams", "darcy-weisbach", "chezy-manning"][formula],
        "nodes": [_node(project, index) for index in range(1, nodes + 1)],
        "links": [_link(project, index) for index in range(1, links + 1)],
    }
    bores = _zero_bores(found["links"])
    if bores:
        return {"faults": [f"{name} has a diameter of 0" for name in bores[:_TOLD]]}
    if solve:
        found["steps"] = _steps(project, nodes, links)
    toolkit.deleteproject(project)
    return found


def main() -> None:
    """Read the file named on the command line; the last line printed is the document."""
    warnings.simplefilter("ignore")
    # The engine writes about its errors where a report is closed already: away with it.
    quiet = os.open(os.devnull, os.O_WRONLY)
    out = os.dup(1)
    os.dup2(quiet, 1)
    found = read(sys.argv[1], solve="--solve" in sys.argv[2:])
    os.write(out, json.dumps(found).encode())


if __name__ == "__main__":
    main()
