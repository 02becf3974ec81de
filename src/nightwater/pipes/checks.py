"""Every doubt about the pipes: the network's own, then rule by rule."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Protocol

import shapely

from nightwater.findings import Finding, Severity
from nightwater.ground.record import Ground
from nightwater.ground.settings import NightRules
from nightwater.pipes.laid import Laid
from nightwater.pipes.network import build_network
from nightwater.pipes.rules import (
    lateral_overloaded,
    main_dead_end,
    pipe_end_apart,
    pipe_no_isolation,
    pipes_cross,
    pipes_doubled,
)


class PipeRule(Protocol):
    """A module of `pipes/rules`: one code, one severity, and what it finds."""

    @property
    def CODE(self) -> str: ...  # noqa: D102, N802

    @property
    def SEVERITY(self) -> Severity: ...  # noqa: D102, N802

    def find(self, laid: Laid) -> Iterable[Finding]: ...  # noqa: D102


PIPE_RULES: Final[tuple[PipeRule, ...]] = (
    pipe_end_apart,
    pipes_doubled,
    pipes_cross,
    main_dead_end,
    lateral_overloaded,
    pipe_no_isolation,
)


def check_pipes(ground: Ground, rules: NightRules) -> list[Finding]:
    """Findings about the pipes of a record; rules ask only where ids are unique.

    Args:
        ground: the record.
        rules: the course's velocity limit and loop margin.

    Returns:
        What `build_network` doubts, doubts about isolation valves, then the findings of
        `PIPE_RULES` in order.
    """
    network, found = build_network(ground)
    laid = Laid(ground, network, rules)
    unique = all(ground.table(name).index.is_unique for name in ("pipes", "heads", "stations"))
    if not unique or shapely.is_empty(laid.lines).all():
        return found
    valves = laid.segments.findings if laid.segments else ()
    return [*found, *valves, *(finding for rule in PIPE_RULES for finding in rule.find(laid))]
