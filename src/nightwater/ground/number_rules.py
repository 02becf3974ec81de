"""How a club numbers its heads and stations, as data that it may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from string import Formatter
from typing import Any, Final

from nightwater.ground.rule_documents import RuleReader
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
MOST_NUMBER: Final = 9999
_PATTERN_FIELDS: Final = ("hole", "kind", "number")
_CHOICES: Final = {
    "scheme": SCHEMES,
    "around_green": AROUND_GREEN,
    "station_number": STATION_NUMBERS,
}


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
    reader = RuleReader("numbering rules")
    _read(reader, document)
    reader.check()
    kinds = document.get("kinds", {})
    given = {
        kind: KindRule(**(asdict(KIND_RULES[kind]) | dict(kinds.get(kind, {}))))
        for kind in KIND_RULES
    }
    areas = {str(area): KindRule(**rule) for area, rule in document.get("areas", {}).items()}
    rest = {key: value for key, value in document.items() if key not in ("kinds", "areas")}
    return NumberRules(kinds=given, areas=areas, **rest)


def _names(kind: type) -> tuple[str, ...]:
    return tuple(item.name for item in fields(kind))


def _read_kind(reader: RuleReader, where: str, rule: Any, is_whole: bool) -> None:
    if not isinstance(rule, Mapping):
        reader.faults.append(f"{where} is no set of named values")
        return
    reader.names(where, "key", rule, _names(KindRule))
    if is_whole and "letter" not in rule:
        reader.faults.append(f"{where} lacks 'letter'")
    for key, known in _CHOICES.items():
        reader.names(where, key, [rule[key]] if key in rule else [], known)
    reader.text(f"{where}: ", rule, "letter")
    reader.whole(f"{where}: ", rule, "start", 0, MOST_NUMBER)
    reader.whole(f"{where}: ", rule, "per_area", 0, MOST_NUMBER)
    if rule.get("bearing_deg") is not None:
        reader.number(f"{where}: ", rule, "bearing_deg", 0.0, 360.0)


def _read_pattern(reader: RuleReader, pattern: Any) -> None:
    if not isinstance(pattern, str):
        reader.faults.append("pattern is no text")
        return
    try:
        parts = [
            (name, spec, conversion) for _, name, spec, conversion in Formatter().parse(pattern)
        ]
    except ValueError as fault:
        reader.faults.append(f"pattern '{pattern}': {fault}")
        return
    named = [name for name, _, _ in parts if name is not None]
    reader.names("pattern", "field", named, _PATTERN_FIELDS)
    lacking = [name for name in _PATTERN_FIELDS if name not in named]
    reader.faults += [f"pattern '{pattern}' lacks {{{name}}}" for name in lacking]
    if any(spec or conversion for _, spec, conversion in parts):
        reader.faults.append(f"pattern '{pattern}': digits are set by hole_width and number_width")


def _read(reader: RuleReader, document: Mapping[str, Any]) -> None:
    reader.names("", "key", document, _names(NumberRules))
    kinds, areas = reader.mapping(document, "kinds"), reader.mapping(document, "areas")
    reader.names("", "kind", kinds, WATERED_KINDS)
    for kind, rule in kinds.items():
        _read_kind(reader, f"kinds.{kind}", rule, is_whole=False)
    for area, rule in areas.items():
        _read_kind(reader, f"areas.{area}", rule, is_whole=True)
    places = reader.mapping(document, "places")
    for area in places:
        reader.text("places: ", places, area)
    if "approach" in document:
        reader.names("", "approach", [document["approach"]], APPROACHES)
    if "pattern" in document:
        _read_pattern(reader, document["pattern"])
    for key in ("hole_width", "number_width"):
        reader.whole("", document, key, 1, 6)
    for key in ("around_green_m", "centre_m"):
        reader.number("", document, key, 0.0, 100.0)
