"""Which heads a club lets share a station, as data that it may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any, Final

from nightwater.findings import UserError
from nightwater.ground.number_rules import unknown_name
from nightwater.ground.tables import WATERED_KINDS

GROUPINGS: Final = ("single", "pair", "zone")
KIND_GROUPINGS: Final[Mapping[str, str]] = {
    "green": "single",
    "tee": "pair",
    "approach": "single",
    "fairway": "pair",
    "rough": "pair",
    "practice": "pair",
    "grounds": "zone",
}


@dataclass(frozen=True)
class PairRules:
    """How heads share stations (common practice, no source).

    Attributes:
        kinds: watered kind → "single", "pair", or "zone" (all like heads of an area).
        areas: area id → a grouping of its own, in place of its kind's.
        reach: most distance between the heads of a pair, times their spacing.
        flow_tolerance: most difference of their flows, as a share of the larger.
        arc_tolerance_deg: most difference of the arcs of two part circles.
        zone_heads: most heads of a zone; an area with more gets several of even size.
    """

    kinds: Mapping[str, str] = field(default_factory=lambda: dict(KIND_GROUPINGS))
    areas: Mapping[str, str] = field(default_factory=dict)
    reach: float = 1.3
    flow_tolerance: float = 0.05
    arc_tolerance_deg: float = 45.0
    zone_heads: int = 12

    def grouping(self, kind: str, area: str = "") -> str:
        """How heads share stations: by their area, else their kind; else alone."""
        if area in self.areas:
            return self.areas[area]
        return self.kinds.get(kind, KIND_GROUPINGS.get(kind, "single"))

    def as_plain(self) -> dict[str, Any]:
        """The rules as text, numbers and dicts, to be stored as JSON."""
        return asdict(self)


def _faults(document: Mapping[str, Any]) -> list[str]:
    keys = tuple(item.name for item in fields(PairRules))
    found = [unknown_name("key", str(key), keys) for key in document if key not in keys]
    for kind, grouping in document.get("kinds", {}).items():
        if kind not in WATERED_KINDS:
            found.append(unknown_name("kind", str(kind), WATERED_KINDS))
        if grouping not in GROUPINGS:
            found.append(f"kinds.{kind}: {unknown_name('grouping', str(grouping), GROUPINGS)}")
    for area, grouping in document.get("areas", {}).items():
        if grouping not in GROUPINGS:
            found.append(f"areas.{area}: {unknown_name('grouping', str(grouping), GROUPINGS)}")
    for key in ("reach", "flow_tolerance", "arc_tolerance_deg", "zone_heads"):
        value = document.get(key, 1)
        if isinstance(value, bool) or not isinstance(value, int | float) or not value > 0:
            found.append(f"{key} is no number above 0")
    return found


def pair_rules_from(document: Mapping[str, Any]) -> PairRules:
    """Rules from plain values as `PairRules.as_plain` writes them; what is missing is usual.

    Raises:
        UserError: every fault at once, an unknown name with the nearest known one.
    """
    faults = _faults(document)
    if faults:
        raise UserError("The pairing rules do not read: " + "; ".join(faults) + ".")
    kinds = dict(KIND_GROUPINGS) | dict(document.get("kinds", {}))
    rest = {key: value for key, value in document.items() if key != "kinds"}
    return PairRules(kinds=kinds, **rest)
