"""What the Reconcile page shows of a matching."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from nightwater.desk.reconciling import Reconciled
from nightwater.findings import Finding
from nightwater.ground.reconcile import AGREES, DOUBTFUL, NO_HEADS, NO_ROW
from nightwater.units import UnitSystem
from nightwater.web.figures import quantity
from nightwater.web.tonight.search import natural

VERDICTS: Final = (NO_HEADS, NO_ROW, DOUBTFUL, AGREES)
MARKS: Final = {NO_HEADS: "red", NO_ROW: "red", DOUBTFUL: "amber", AGREES: "green"}
WORDS: Final = {
    AGREES: "agrees",
    DOUBTFUL: "look at it",
    NO_ROW: "heads without a row",
    NO_HEADS: "row without heads",
}


@dataclass(frozen=True)
class Line:
    """One match, as a person reads it."""

    verdict: str
    label: str
    heads: tuple[str, ...]
    ground: str
    listed: str
    runner_up: str


@dataclass(frozen=True)
class Place:
    """One hole: how its rows stand, its lines (the worst first) and its findings."""

    name: str
    counts: dict[str, int]
    lines: tuple[Line, ...]
    findings: tuple[Finding, ...]

    @property
    def matched(self) -> int:
        """Rows that accepting would put heads on."""
        return self.counts[AGREES] + self.counts[DOUBTFUL]


def _said(letter: Any, number: Any, count: Any, flow_l_s: Any, units: UnitSystem) -> str:
    parts = []
    if isinstance(letter, str) and not math.isnan(number):
        parts.append(f"{letter} {number:.0f}")
    if not math.isnan(count):
        parts.append(f"{count:.0f} head{'s' if count != 1 else ''}")
    if not math.isnan(flow_l_s):
        parts.append(quantity(float(flow_l_s), "l_s", units))
    return ", ".join(parts) or "–"


def _line(row: dict[str, Any], labels: dict[str, str], units: UnitSystem) -> Line:
    letter = row["letter"]
    listed = letter if row["station"] is not None else None
    return Line(
        verdict=row["verdict"],
        label=row["label"] or row["station"] or "–",
        heads=tuple(row["heads"]),
        ground=_said(letter, row["number"], row["count"], row["flow_l_s"], units),
        listed=_said(
            listed, row["number_listed"], row["count_listed"], row["flow_listed_l_s"], units
        ),
        runner_up=labels.get(row["runner_up"], "") if row["verdict"] == DOUBTFUL else "",
    )


def _place(found: Reconciled, name: str, labels: dict[str, str], units: UnitSystem) -> Place:
    own = found.of([name])
    rows = [{str(k): v for k, v in row.items()} for row in own.matching.rows.to_dict("records")]
    lines = [_line(row, labels, units) for row in rows]
    lines.sort(key=lambda line: (VERDICTS.index(line.verdict), natural(line.label)))
    counts = {verdict: sum(line.verdict == verdict for line in lines) for verdict in VERDICTS}
    return Place(name, counts, tuple(lines), own.findings)


def places_of(found: Reconciled, labels: dict[str, str], units: UnitSystem) -> list[Place]:
    """Every hole of a matching, in the order of their names.

    Args:
        found: the matching.
        labels: station id → what people call it.
        units: what the reader reads.
    """
    return [_place(found, name, labels, units) for name in sorted(found.places, key=natural)]
