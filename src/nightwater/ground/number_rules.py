"""How a club numbers its heads and stations, as data that it may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from difflib import get_close_matches
from string import Formatter
from typing import Any, Final

from nightwater.findings import UserError
from nightwater.ground.tables import WATERED_KINDS

SCHEMES: Final = (
    "odd_left_even_right",
    "sequence",
    "clockwise_from_lower_left",
    "back_to_front",
    "rows",
    "columns",
)
AROUND_GREEN: Final = ("with_the_rest", "first", "last")
STATION_NUMBERS: Final = ("first_head", "own_order")
APPROACHES: Final = ("own_kind", "after_fairway")
_PATTERN_FIELDS: Final = ("hole", "kind", "number")


@dataclass(frozen=True)
class KindRule:
    """How the heads of one kind of ground are counted on a hole.

    Attributes:
        letter: what stands for the kind in a label.
        scheme: one of `SCHEMES`.
        start: the first number (the first odd one on the left, for odd and even).
        around_green: heads that stand around the green count clockwise "first" or "last",
            or "with_the_rest" by the scheme.
        per_area: where not 0, each area's numbers begin at this many times its rank.
        bearing_deg: direction in which ground without a line of play is counted,
            clockwise from north; None is along its longer side.
        station_number: a station bears its "first_head"'s number, or its "own_order".
    """

    letter: str
    scheme: str = "sequence"
    start: int = 1
    around_green: str = "with_the_rest"
    per_area: int = 0
    bearing_deg: float | None = None
    station_number: str = "first_head"


KIND_RULES: Final[Mapping[str, KindRule]] = {
    "green": KindRule("G", "clockwise_from_lower_left"),
    "tee": KindRule("T", "back_to_front"),
    "approach": KindRule("A", "sequence"),
    "fairway": KindRule("F", "odd_left_even_right"),
    "rough": KindRule("R", "odd_left_even_right"),
    "practice": KindRule("P", "rows"),
    "grounds": KindRule("C", "rows"),
}


@dataclass(frozen=True)
class NumberRules:
    """The trade's order as one club keeps it (common practice, no source).

    Attributes:
        kinds: a rule for each watered kind of area.
        areas: area id → a rule of its own, in place of its kind's.
        places: area id or kind → what stands for the hole in labels; areas that share it
            are counted on. Ground without hole and place is named by its area's id.
        pattern: how a label is put together from {hole}, {kind} and {number}.
        hole_width, number_width: least digits of a hole's number and of the number.
        approach: "own_kind", or "after_fairway": approach heads bear the fairway's letter
            and the numbers after its last.
        around_green_m: a head this near to a green's edge stands around it.
        centre_m: a head this near to the line of play stands on neither side for sure.
    """

    kinds: Mapping[str, KindRule] = field(default_factory=lambda: dict(KIND_RULES))
    areas: Mapping[str, KindRule] = field(default_factory=dict)
    places: Mapping[str, str] = field(default_factory=dict)
    pattern: str = "{hole}-{kind}-{number}"
    hole_width: int = 2
    number_width: int = 2
    approach: str = "own_kind"
    around_green_m: float = 10.0
    centre_m: float = 3.0

    def rule(self, area: str | None, kind: str) -> KindRule:
        """The rule of an area: its own, else that of its kind, else the trade's.

        Raises:
            KeyError: the kind is not watered.
        """
        if area is not None and area in self.areas:
            return self.areas[area]
        return self.kinds[kind] if kind in self.kinds else KIND_RULES[kind]

    def label(self, place: str, letter: str, number: int) -> str:
        """A label; a place of digits is padded to `hole_width`."""
        hole = place.zfill(self.hole_width) if place.isdigit() else place
        written = f"{number:0{self.number_width}d}"
        return self.pattern.format(hole=hole, kind=letter, number=written)

    def as_plain(self) -> dict[str, Any]:
        """The rules as text, numbers and dicts, to be stored as JSON."""
        return asdict(self)


def number_rules_from(document: Mapping[str, Any]) -> NumberRules:
    """Rules from plain values as `NumberRules.as_plain` writes them; what is missing is usual.

    A kind that is given changes only what it names.

    Raises:
        UserError: every fault at once, an unknown name with the nearest known one.
    """
    faults = list(_faults(document))
    if faults:
        raise UserError("The numbering rules do not read: " + "; ".join(faults) + ".")
    kinds = {kind: dict(rule) for kind, rule in document.get("kinds", {}).items()}
    given = {
        kind: KindRule(**(asdict(KIND_RULES[kind]) | kinds.get(kind, {}))) for kind in KIND_RULES
    }
    areas = {str(area): KindRule(**rule) for area, rule in document.get("areas", {}).items()}
    rest = {key: value for key, value in document.items() if key not in ("kinds", "areas")}
    return NumberRules(kinds=given, areas=areas, **rest)


def unknown_name(what: str, name: str, known: tuple[str, ...]) -> str:
    """Words for a name that is not known, with the nearest one or all of them."""
    near = get_close_matches(name, known, 1, 0.5)
    hint = f"did you mean '{near[0]}'?" if near else f"known: {', '.join(known)}"
    return f"unknown {what} '{name}' ({hint})"


def _names(kind: type) -> tuple[str, ...]:
    return tuple(item.name for item in fields(kind))


def _kind_faults(where: str, rule: Any, is_whole: bool) -> list[str]:
    if not isinstance(rule, Mapping):
        return [f"{where} is no set of named values"]
    keys = _names(KindRule)
    found = [f"{where}: {unknown_name('key', str(key), keys)}" for key in rule if key not in keys]
    if is_whole and "letter" not in rule:
        found.append(f"{where} lacks 'letter'")
    choices = {
        "scheme": SCHEMES,
        "around_green": AROUND_GREEN,
        "station_number": STATION_NUMBERS,
    }
    for key, known in choices.items():
        if key in rule and rule[key] not in known:
            found.append(f"{where}: {unknown_name(key, str(rule[key]), known)}")
    wrong = {key for key in ("start", "per_area") if not isinstance(rule.get(key, 0), int)}
    return found + [f"{where}: {key} is no whole number" for key in sorted(wrong)]


def _pattern_faults(pattern: Any) -> list[str]:
    try:
        named = [name for _, name, _, _ in Formatter().parse(str(pattern)) if name is not None]
    except ValueError as fault:
        return [f"pattern '{pattern}': {fault}"]
    found = [unknown_name("field", n, _PATTERN_FIELDS) for n in named if n not in _PATTERN_FIELDS]
    lacking = [name for name in _PATTERN_FIELDS if name not in named]
    return [f"pattern: {fault}" for fault in found] + [
        f"pattern '{pattern}' lacks {{{name}}}" for name in lacking
    ]


def _faults(document: Mapping[str, Any]) -> list[str]:
    keys = _names(NumberRules)
    found = [unknown_name("key", str(key), keys) for key in document if key not in keys]
    for kind, rule in document.get("kinds", {}).items():
        if kind not in WATERED_KINDS:
            found.append(unknown_name("kind", str(kind), WATERED_KINDS))
        found += _kind_faults(f"kinds.{kind}", rule, is_whole=False)
    for area, rule in document.get("areas", {}).items():
        found += _kind_faults(f"areas.{area}", rule, is_whole=True)
    if document.get("approach", APPROACHES[0]) not in APPROACHES:
        found.append(unknown_name("approach", str(document["approach"]), APPROACHES))
    return found + (_pattern_faults(document["pattern"]) if "pattern" in document else [])
