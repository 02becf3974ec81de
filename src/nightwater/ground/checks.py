"""Every doubt about the record, rule by rule."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from nightwater.findings import Finding
from nightwater.ground import area_checks, head_checks, spacing, station_checks, value_checks
from nightwater.ground.linked import Linked
from nightwater.ground.record import Ground

Rule = Callable[[Linked], Iterable[Finding]]

RULES: Final[tuple[Rule, ...]] = (
    value_checks.labels_twice,
    value_checks.missing_values,
    value_checks.values_out_of_bounds,
    value_checks.unknown_links,
    value_checks.without_geometry,
    value_checks.far_from_course,
    head_checks.without_station,
    head_checks.area_doubts,
    head_checks.without_flow,
    head_checks.without_spacing,
    head_checks.rates_implausible,
    head_checks.measured_flow_differs,
    head_checks.arc_without_bearing,
    spacing.spacing_differs,
    spacing.spacing_implausible,
    spacing.heads_in_one_spot,
    station_checks.without_heads,
    station_checks.head_count_differs,
    station_checks.flow_differs,
    station_checks.mixed,
    station_checks.far_apart,
    station_checks.outputs_twice,
    area_checks.overlaps,
    area_checks.without_heads,
    area_checks.wetted_differs,
    area_checks.without_hole,
    area_checks.holes_without,
    area_checks.lines_backwards,
    area_checks.hole_numbers,
)


def check_ground(ground: Ground) -> list[Finding]:
    """Findings about the record itself; the pipe network is checked by `pipes`.

    Args:
        ground: the record, with heads and station list reconciled
            (`resolve_station_lists`, which has findings of its own).

    Returns:
        Findings, subject `table:id`, in the order of `RULES`. Every rule needs unique
        ids, so where an id stands twice only that is told.
    """
    linked = Linked(ground)
    doubled = list(value_checks.ids_twice(linked))
    if doubled:
        return doubled
    return [finding for rule in RULES for finding in rule(linked)]
