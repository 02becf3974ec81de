"""What the engine's answers make doubtful, as findings that name the pipe or head."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.findings import Finding, error, note, warning
from nightwater.pipes.solution import Solution

_BELOW_KPA: Final = -0.5  # nearer to nothing than this is no suction
_PUSHED_BACK_L_S: Final = -0.01

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Doubted:
    """What the engine said of each set that was solved, row by row.

    Attributes:
        row: the set's number among all that were asked for.
        unsolved: no answer.
        unsettled: nozzles whose flow did not settle.
        unbalanced: the engine stopped before it converged.
    """

    row: NDArray[np.int64]
    unsolved: Flags
    unsettled: Flags
    unbalanced: Flags


def _numbered(rows: NDArray[np.int64]) -> str:
    """How many sets, and which is the first."""
    first = int(rows[0]) + 1
    return (
        f"open set number {first}"
        if len(rows) == 1
        else f"{len(rows)} open sets, the first number {first}"
    )


def _of_engine(doubted: Doubted) -> list[Finding]:
    """Sets that the engine could not, or could not quite, solve."""
    found = []
    if doubted.unsolved.any():
        found.append(
            error(
                "not-solved",
                "pipes:*",
                f"The engine finds no answer for {_numbered(doubted.row[doubted.unsolved])}; they "
                "have no pressures.",
                "Look for heads behind very thin or closed pipe in that set.",
            )
        )
    loose = doubted.unbalanced | doubted.unsettled
    if loose.any():
        found.append(
            warning(
                "not-converged",
                "pipes:*",
                f"The engine stopped before flows agreed in {_numbered(doubted.row[loose])}; their "
                "pressures are near, not exact.",
                "Read pressures there as estimates.",
            )
        )
    return found


def _suction(solution: Solution, doubted: Doubted) -> list[Finding]:
    """Nodes under less than no pressure."""
    pressure = solution.node_pressure_kpa
    least = np.nanmin(np.where(np.isnan(pressure), np.inf, pressure), axis=1, initial=np.inf)
    bad = np.flatnonzero(least < _BELOW_KPA)
    if not len(bad):
        return []
    worst = bad[np.argmin(least[bad])]
    node = int(np.nanargmin(pressure[worst]))
    net = solution.network
    at_heads = [name for name, at in zip(net.heads, net.head_node, strict=True) if at == node]
    links = np.flatnonzero((net.start == node) | (net.end == node))
    kind = net.kind[links[0]] if len(links) else "pipe"
    pipe = f"{'pipes' if kind == 'pipe' else 'valves'}:{net.owner[links[0]]}"
    subject = f"heads:{at_heads[0]}" if at_heads else pipe
    return [
        error(
            "negative-pressure",
            subject,
            f"At {subject.replace(':', ' ')} the pressure would be "
            f"{least[worst]:.0f} kPa in open set {int(doubted.row[worst]) + 1}, less than none, "
            f"and below none somewhere in {len(bad)} sets: that much water cannot flow.",
            "Run fewer heads at once there, or check bores, levels and the pumps' curve.",
        )
    ]


def _feeds(solution: Solution, doubted: Doubted) -> list[Finding]:
    """Feeds that cannot hold their pressure, or are pushed back by another."""
    found = []
    for place, feed in enumerate(solution.network.feeds):
        flow = solution.feed_flow_l_s[:, place]
        fails = np.flatnonzero(~solution.holds[:, place] & ~doubted.unsolved)
        if len(fails):
            worst = fails[np.argmax(flow[fails])]
            got = solution.node_pressure_kpa[worst, feed.node]
            found.append(
                warning(
                    "pump-cannot-hold",
                    feed.subject,
                    f"{feed.subject.replace(':', ' ').capitalize()} cannot hold its "
                    f"{feed.set_kpa:.0f} kPa in {_numbered(doubted.row[fails])}: at "
                    f"{flow[worst]:.1f} L/s the pumps give {got:.0f} kPa at full speed.",
                    "Run less at once, or check the pumps' curve.",
                )
            )
        back = np.flatnonzero(flow < _PUSHED_BACK_L_S)
        if len(back):
            found.append(
                note(
                    "feed-pushed-back",
                    feed.subject,
                    f"Another feed presses {-flow[back].min():.1f} L/s back into "
                    f"{feed.subject.replace(':', ' ')} in {_numbered(doubted.row[back])}.",
                    "Give both the pressures that they really hold.",
                )
            )
    return found


def engine_findings(solution: Solution, doubted: Doubted) -> tuple[Finding, ...]:
    """Every doubt about the sets of a solution.

    Args:
        solution: the different sets, solved.
        doubted: what the engine said of each.
    """
    return (*_of_engine(doubted), *_suction(solution, doubted), *_feeds(solution, doubted))
