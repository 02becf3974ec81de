"""Every doubt about the record, rule by rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Protocol

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.record import Ground
from nightwater.ground.rules import (
    arc_misses_area,
    arc_off_turf,
    arc_without_bearing,
    area_without_grass,
    area_without_heads,
    area_without_hole,
    area_without_soil,
    areas_overlap,
    broken_outline,
    far_from_course,
    flow_against_throw,
    flow_zero,
    head_beside_area,
    head_in_no_area,
    head_on_unwatered_ground,
    head_without_flow,
    head_without_spacing,
    head_without_station,
    heads_in_one_spot,
    hole_line_backwards,
    hole_number_left_out,
    hole_number_twice,
    hole_without_green,
    hole_without_line,
    hole_without_number,
    hole_without_tee,
    id_twice,
    label_out_of_order,
    label_twice,
    measured_flow_differs,
    output_twice,
    rate_implausible,
    rate_outlier,
    row_against_spacing,
    spacing_against_throw,
    spacing_differs,
    station_beyond_pumps,
    station_flow_differs,
    station_head_count,
    station_heads_far_apart,
    station_in_wrong_hole,
    station_mixes_arcs,
    station_mixes_kinds,
    station_mixes_nozzles,
    station_without_controller,
    station_without_heads,
    throw_off_turf,
    throw_on_hard_ground,
    unknown_link,
    value_missing,
    value_out_of_bounds,
    wetted_area_differs,
    without_geometry,
)
from nightwater.ground.scopes import Scope


class Rule(Protocol):
    """A module of `ground/rules`: one code, one severity, and what it finds."""

    @property
    def CODE(self) -> str: ...  # noqa: D102, N802

    @property
    def SEVERITY(self) -> Severity: ...  # noqa: D102, N802

    def find(self, linked: Linked) -> Iterable[Finding]: ...  # noqa: D102


FIRST: Final[Rule] = id_twice  # every other rule needs unique ids
RULES: Final[tuple[Rule, ...]] = (
    label_twice,
    value_missing,
    value_out_of_bounds,
    unknown_link,
    without_geometry,
    broken_outline,
    far_from_course,
    head_without_station,
    head_in_no_area,
    head_beside_area,
    head_on_unwatered_ground,
    head_without_flow,
    flow_zero,
    flow_against_throw,
    head_without_spacing,
    rate_implausible,
    rate_outlier,
    measured_flow_differs,
    arc_without_bearing,
    arc_off_turf,
    throw_off_turf,
    throw_on_hard_ground,
    arc_misses_area,
    spacing_differs,
    spacing_against_throw,
    row_against_spacing,
    heads_in_one_spot,
    station_without_heads,
    station_head_count,
    station_flow_differs,
    station_mixes_kinds,
    station_mixes_nozzles,
    station_mixes_arcs,
    station_heads_far_apart,
    station_in_wrong_hole,
    label_out_of_order,
    station_beyond_pumps,
    output_twice,
    station_without_controller,
    areas_overlap,
    area_without_heads,
    wetted_area_differs,
    area_without_hole,
    area_without_soil,
    area_without_grass,
    hole_without_line,
    hole_without_green,
    hole_without_tee,
    hole_line_backwards,
    hole_without_number,
    hole_number_twice,
    hole_number_left_out,
)


@dataclass(frozen=True)
class Checked:
    """A record, its links, and what each rule found.

    Attributes:
        linked: the record with its links.
        by_rule: code of a rule → its findings, in the order of `RULES`.
    """

    linked: Linked
    by_rule: Mapping[str, tuple[Finding, ...]]

    @property
    def whole(self) -> bool:
        """Whether every rule was asked: none is where an id stands twice."""
        return FIRST.CODE not in self.by_rule

    @property
    def findings(self) -> list[Finding]:
        """Everything found, rule by rule."""
        return [finding for found in self.by_rule.values() for finding in found]


def scope_of(rule: Rule) -> Scope:
    """How far a rule looks; the whole record where it does not say."""
    scope: Scope = getattr(rule, "SCOPE", Scope.WHOLE)
    return scope


def check_whole(ground: Ground, number_rules: NumberRules | None = None) -> Checked:
    """Every rule asked of a whole record.

    Args:
        ground: the record, with heads and station list reconciled
            (`resolve_station_lists`, which has findings of its own).
        number_rules: how the club numbers heads and stations; the trade's order if not given.

    Returns:
        Findings by rule. Every rule needs unique ids, so where an id stands twice only that
        is told.
    """
    linked = Linked(ground, number_rules or NumberRules())
    doubled = tuple(FIRST.find(linked))
    if doubled:
        return Checked(linked, {FIRST.CODE: doubled})
    return Checked(linked, {rule.CODE: tuple(rule.find(linked)) for rule in RULES})


def check_ground(ground: Ground, number_rules: NumberRules | None = None) -> list[Finding]:
    """Findings about the record itself, subject `table:id`, in the order of `RULES`.

    The pipe network is checked by `pipes`; see `check_whole` for the arguments.
    """
    return check_whole(ground, number_rules).findings
