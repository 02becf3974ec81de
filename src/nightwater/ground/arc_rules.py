"""What ground the heads of each kind should wet, as data that a club may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any, Final

from nightwater.ground.rule_documents import RuleReader
from nightwater.ground.tables import AREA_KINDS, HARD_KINDS, WATERED_KINDS

OPEN: Final = "open"  # ground that no area covers
GROUNDS: Final = (*AREA_KINDS, OPEN)
_NEVER: Final = ("water", *HARD_KINDS)
_BUT_GREEN: Final = tuple(kind for kind in GROUNDS if kind not in ("green", *_NEVER))
WETTED_BY_KIND: Final[Mapping[str, tuple[str, ...]]] = {
    "green": ("green",),
    "tee": tuple(kind for kind in GROUNDS if kind not in _NEVER),
    "approach": _BUT_GREEN,
    "fairway": _BUT_GREEN,
    "rough": _BUT_GREEN,
    "practice": ("practice", "tee", "fairway", "rough", "native", OPEN),
    "grounds": ("grounds",),
}


@dataclass(frozen=True)
class ArcRules:
    """When a head is a part circle, and of what (common practice, no source).

    Attributes:
        wetted: watered kind → the kinds of ground its heads should wet; "open" is ground
            that no area covers.
        full_share: a head with this share of its throw on such ground is a full circle.
        ray_share: a direction counts where this share of the throw in it lies on it.
        widest_deg: a part circle wider than this is set to a full one.
        gap_deg: a break in the ground narrower than this is thrown over.
        collar_m: how far beyond a green's edge its heads should reach.
    """

    wetted: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: dict(WETTED_BY_KIND))
    full_share: float = 0.85
    ray_share: float = 0.5
    widest_deg: float = 300.0
    gap_deg: float = 10.0
    collar_m: float = 2.0

    def wetted_by(self, kind: str) -> tuple[str, ...]:
        """The kinds of ground that heads of a kind should wet."""
        return tuple(self.wetted.get(kind, WETTED_BY_KIND.get(kind, GROUNDS)))

    def as_plain(self) -> dict[str, Any]:
        """The rules as text, numbers, lists and dicts, to be stored as JSON."""
        wetted = {kind: list(grounds) for kind, grounds in self.wetted.items()}
        return asdict(self) | {"wetted": wetted}


_BOUNDS: Final = {
    "full_share": (0.0, 1.0),
    "ray_share": (0.0, 1.0),
    "widest_deg": (180.0, 360.0),
    "gap_deg": (0.0, 90.0),
    "collar_m": (0.0, 10.0),
}


def arc_rules_from(document: Mapping[str, Any]) -> ArcRules:
    """Rules from plain values as `ArcRules.as_plain` writes them; what is missing is usual.

    Raises:
        UserError: every fault at once, an unknown name with the nearest known one.
    """
    reader = RuleReader("rules for arcs")
    reader.names("", "key", document, tuple(item.name for item in fields(ArcRules)))
    wetted = reader.mapping(document, "wetted")
    reader.names("", "kind", wetted, WATERED_KINDS)
    for kind, grounds in wetted.items():
        if isinstance(grounds, list | tuple):
            reader.names(f"wetted.{kind}", "ground", grounds, GROUNDS)
        else:
            reader.faults.append(f"wetted.{kind} is no list of grounds")
    for key, (lowest, highest) in _BOUNDS.items():
        reader.number("", document, key, lowest, highest)
    reader.check()
    given = {kind: tuple(grounds) for kind, grounds in wetted.items()}
    rest = {key: value for key, value in document.items() if key != "wetted"}
    return ArcRules(wetted=dict(WETTED_BY_KIND) | given, **rest)
