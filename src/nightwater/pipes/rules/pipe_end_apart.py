"""Pipe ends that stop just short of the pipe they were meant to join."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.pipes.joints import JOINT_M
from nightwater.pipes.laid import Laid
from nightwater.pipes.network import NEAR_M

CODE: Final = "pipe-end-apart"
SEVERITY: Final = Severity.WARNING


def find(laid: Laid) -> Iterator[Finding]:
    """Each loose end near a pipe of another part, or near any pipe where it feeds no head."""
    ends = laid.loose_ends
    feeds_none = ~(ends["head_m"] <= NEAR_M)
    apart = ends["gap_m"].notna() & (ends["other_part"].eq(True) | feeds_none)
    for row in ends[apart].to_dict("records"):
        yield Finding(
            SEVERITY,
            CODE,
            f"pipes:{row['pipe']}",
            f"An end of pipe {laid.name('pipes', row['pipe'])} lies {row['gap_m']:.1f} m from pipe "
            f"{laid.name('pipes', row['other'])} and joins nothing; pipes within {JOINT_M} m are "
            "taken for joined.",
            "Draw its end onto that pipe, or leave it where it was really capped.",
        )
