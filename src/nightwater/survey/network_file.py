"""An EPANET file, read in a process of its own, as plain values in SI."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from nightwater.findings import Finding, UserError, note

NETWORK_ENDINGS: Final = (".inp",)
WRITTEN_BY: Final = "Written by nightwater"
_CHILD: Final = Path(__file__).with_name("network_child.py")
_MOST_SECONDS: Final = 120

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class NetworkStep:
    """One steady state of the file, by the order of its nodes and links.

    Attributes:
        time_s: since the run's start.
        head_m, outflow_l_s: of every node.
        flow_l_s: of every link.
    """

    time_s: int
    head_m: Numbers
    outflow_l_s: Numbers
    flow_l_s: Numbers


@dataclass(frozen=True)
class NetworkFile:
    """What an EPANET file holds.

    Attributes:
        nodes: id, kind ("junction", "reservoir", "tank"), level_m, emitter (L/s per m^0.5), place.
        links: id, kind ("pipe", "check", "pump", "reducing", "valve"), ends (rows of nodes), open,
            bends, and what its kind has: diameter_mm, length_m, roughness, setting_m, curve.
        formula: of friction.
        own: whether this program wrote it.
        steps: the states that the file asks for, where they were asked for.
        findings: doubts about the file as such.
    """

    nodes: tuple[dict[str, Any], ...]
    links: tuple[dict[str, Any], ...]
    formula: str
    own: bool
    steps: tuple[NetworkStep, ...]
    findings: tuple[Finding, ...]


def _decoded(path: Path) -> tuple[str, tuple[Finding, ...]]:
    content = path.read_bytes()
    try:
        return content.decode("utf-8-sig"), ()
    except UnicodeDecodeError:
        doubt = note(
            "not-utf-8",
            f"file:{path.name}",
            f"{path.name} is not UTF-8; it was read as Latin-1.",
            "Look at names with accents; save the file as UTF-8 if they are wrong.",
        )
        return content.decode("latin-1"), (doubt,)


def _answer(path: Path, text: str, *, solve: bool) -> dict[str, Any]:
    """What the child says of the file."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "network.inp"
        copy.write_text(text, encoding="utf-8")
        wanted = [sys.executable, "-I", str(_CHILD), copy.name, *(["--solve"] if solve else [])]
        try:
            child = subprocess.run(
                wanted, cwd=folder, capture_output=True, timeout=_MOST_SECONDS, check=False
            )
        except subprocess.TimeoutExpired:
            raise UserError(
                f"{path.name}: EPANET did not end within {_MOST_SECONDS} s; nothing was read."
            ) from None
    try:
        found: dict[str, Any] = json.loads(child.stdout)
    except ValueError:
        raise UserError(
            f"{path.name} makes EPANET break down (its process ended with {child.returncode}); "
            "nothing was read. Open it in the program that made it and save it again."
        ) from None
    return found


def _step(row: dict[str, Any]) -> NetworkStep:
    names = ("head_m", "outflow_l_s", "flow_l_s")
    return NetworkStep(int(row["time_s"]), *(np.array(row[name], dtype=float) for name in names))


def read_network_file(path: Path, *, solve: bool = False) -> NetworkFile:
    """Read an EPANET file in SI units, in a process that it cannot take down with it.

    Args:
        path: the file; its own flow unit says whether it is in US or metric units.
        solve: whether the states that it asks for are wanted too.

    Raises:
        UserError: what EPANET refuses, with its words; a pipe or valve of no diameter; a file that
            ends the engine's process.
    """
    text, doubts = _decoded(path)
    found = _answer(path, text, solve=solve)
    if "faults" in found:
        raise UserError(
            f"{path.name} cannot be read as an EPANET network: {'; '.join(found['faults'])}. "
            "Correct the file; nothing was read."
        )
    return NetworkFile(
        tuple(found["nodes"]),
        tuple(found["links"]),
        found["formula"],
        WRITTEN_BY in text,
        tuple(_step(row) for row in found.get("steps", ())),
        doubts,
    )
