"""Doubts about areas and holes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import pandas as pd

from nightwater.findings import Finding, note, warning
from nightwater.ground.linked import Linked
from nightwater.ground.overlaps import overlap_pairs
from nightwater.ground.play import backward_lines
from nightwater.ground.tables import WATERED_KINDS

OVERLAP_SHARE: Final = 0.05  # of the smaller area: less is drawing error along an edge
OVERLAP_M2: Final = 5.0
WETTED_SHARE: Final = 0.10
_HOLE_KINDS: Final = ("green", "tee", "fairway", "approach", "rough")


def overlaps(linked: Linked) -> Iterator[Finding]:
    """Areas of one kind drawn on each other."""
    pairs = overlap_pairs(linked.ground)
    doubtful = pairs[(pairs["share"] > OVERLAP_SHARE) & (pairs["overlap_m2"] > OVERLAP_M2)]
    kinds = linked.ground.areas["kind"]
    for row in doubtful.itertuples(index=False):
        one, other = linked.name("areas", row.one), linked.name("areas", row.other)
        yield warning(
            "areas-overlap",
            f"areas:{row.one}",
            f"{one} and {other}, both {kinds[row.one]}, share {row.overlap_m2:,.0f} m² "
            f"({row.share:.0%} of the smaller).",
            "Redraw one, or remove it if it is the same area twice.",
        )


def without_heads(linked: Linked) -> Iterator[Finding]:
    """Turf that no head waters, on a course whose heads are surveyed."""
    if linked.heads.empty:
        return
    watered = set(linked.heads["area"].dropna())
    kinds = linked.ground.areas["kind"]
    for identity in kinds.index[kinds.isin(WATERED_KINDS)]:
        if identity not in watered:
            yield note(
                "area-without-heads",
                f"areas:{identity}",
                f"No head waters {linked.name('areas', identity)} ({kinds[identity]}).",
                "Survey its heads, or call it native ground if it is not watered.",
            )


def wetted_differs(linked: Linked) -> Iterator[Finding]:
    """Areas whose declared wetted ground is not what their heads answer for."""
    heads = linked.heads
    cell = heads["spacing_m"] * heads["row_m"] * heads["arc_deg"] / 360.0
    total = cell.groupby(heads["area"]).agg(lambda cells: cells.sum(skipna=False))
    declared = linked.ground.areas["wetted_m2"].astype(float)
    share = total.reindex(declared.index) / declared - 1.0
    for identity in share.index[share.abs() > WETTED_SHARE]:
        yield warning(
            "wetted-area-differs",
            f"areas:{identity}",
            f"{linked.name('areas', identity)} declares {declared[identity]:,.0f} m² wetted; its "
            f"heads answer for {total[identity]:,.0f} m² ({share[identity]:+.0%}).",
            "Check spacing, rows and arcs of its heads, or leave the declared area empty.",
        )


def without_hole(linked: Linked) -> Iterator[Finding]:
    """Playing ground of no hole; greens and approaches only while a hole lacks a green."""
    holes = linked.ground.holes
    if holes.empty:
        return
    kinds, found = linked.ground.areas["kind"], linked.area_holes
    complete = set(holes.index) <= set(found[kinds == "green"].dropna())
    asked = [kind for kind in _HOLE_KINDS if not (complete and kind in ("green", "approach"))]
    for identity in kinds.index[kinds.isin(asked) & found.isna()]:
        yield note(
            "area-without-hole",
            f"areas:{identity}",
            f"{linked.name('areas', identity)} ({kinds[identity]}) lies near no line of play.",
            "Name its hole, call it practice ground, or draw the missing hole.",
        )


def holes_without(linked: Linked) -> Iterator[Finding]:
    """Holes that have no green or no tee."""
    kinds, found = linked.ground.areas["kind"], linked.area_holes
    for kind in ("green", "tee"):
        if not (kinds == kind).any():
            continue
        served = set(found[kinds == kind].dropna())
        for identity in linked.ground.holes.index:
            if identity not in served:
                yield note(
                    f"hole-without-{kind}",
                    f"holes:{identity}",
                    f"No {kind} was found for {linked.name('holes', identity)}.",
                    f"Survey its {kind}, name the hole on it, or correct the line of play.",
                )


def lines_backwards(linked: Linked) -> Iterator[Finding]:
    """Lines of play that were drawn from the green to the tee."""
    backwards = backward_lines(linked.ground)
    for identity in backwards.index[backwards]:
        yield warning(
            "hole-line-backwards",
            f"holes:{identity}",
            f"The line of {linked.name('holes', identity)} begins on a green and ends on a tee.",
            "Turn it round; until then it is read from its end.",
        )


def hole_numbers(linked: Linked) -> Iterator[Finding]:
    """Holes without a number, and numbers that stand twice or are left out."""
    holes = linked.ground.holes
    for identity in holes.index[holes["number"].isna()]:
        yield note(
            "hole-without-number",
            f"holes:{identity}",
            f"{linked.name('holes', identity)} has no number on the card.",
            "Enter it; names of greens and tees on the ground usually tell it.",
        )
    numbers = holes["number"].dropna().astype(int)
    for number, same in numbers[numbers.duplicated(keep=False)].groupby(numbers):
        first, *others = (str(identity) for identity in same.index)
        yield warning(
            "hole-number-twice",
            f"holes:{first}",
            f"{len(same)} holes carry the number {number}: {', '.join([first, *others])}.",
            "Correct the numbers, or remove the hole of a neighbouring course.",
        )
    for number in sorted(set(range(1, _course_length(numbers) + 1)) - set(numbers)):
        yield note(
            "hole-number-left-out",
            f"holes:{number}",
            f"No hole carries the number {number}.",
            "Survey the hole, or correct the numbers of the others.",
        )


def _course_length(numbers: pd.Series[int]) -> int:
    """Nine, eighteen … holes: the next full nine that holds the highest number."""
    return -(-int(numbers.max()) // 9) * 9 if len(numbers) else 0
