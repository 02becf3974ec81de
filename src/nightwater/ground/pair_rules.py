"""Which heads a club lets share a station, as data that it may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any, Final

from nightwater.ground.rule_documents import RuleReader
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

_BOUNDS: Final = {
    "reach": (0.1, 5.0),
    "flow_tolerance": (0.0, 1.0),
    "arc_tolerance_deg": (0.0, 360.0),
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


def pair_rules_from(document: Mapping[str, Any]) -> PairRules:
    """Rules from plain values as `PairRules.as_plain` writes them; what is missing is usual.

    Raises:
        UserError: every fault at once, an unknown name with the nearest known one.
    """
    reader = RuleReader("pairing rules")
    reader.names("", "key", document, tuple(item.name for item in fields(PairRules)))
    kinds = reader.mapping(document, "kinds")
    reader.names("", "kind", kinds, WATERED_KINDS)
    areas = reader.mapping(document, "areas")
    for where, named in (("kinds", kinds), ("areas", areas)):
        for name, grouping in named.items():
            reader.names(f"{where}.{name}", "grouping", [grouping], GROUPINGS)
    for key, (lowest, highest) in _BOUNDS.items():
        reader.number("", document, key, lowest, highest)
    reader.whole("", document, "zone_heads", 1, 100)
    reader.check()
    rest = {key: value for key, value in document.items() if key != "kinds"}
    return PairRules(kinds=dict(KIND_GROUPINGS) | dict(kinds), **rest)
