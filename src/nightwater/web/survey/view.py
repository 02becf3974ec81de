"""What the Survey page shows of a proposal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from nightwater.desk.surveying import parts_of
from nightwater.ground.changes import GEOMETRY, RowChange
from nightwater.survey.propose import Proposal

ROWS_SHOWN: Final = 100
WORDS_SHOWN: Final = 4
TAKEN: Final = ("added", "moved", "changed")  # what is ticked until a person thinks otherwise


@dataclass(frozen=True)
class Part:
    """One part of a proposal, with its first rows in words."""

    name: str
    count: int
    taken: bool
    rows: tuple[tuple[str, str], ...]


def _written(value: Any) -> str:
    if value is None:
        return "–"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _moved_m(before: Any, after: Any) -> str:
    if before is None or after is None:
        return "gets a place" if after is not None else "loses its place"
    return f"moves {before.centroid.distance(after.centroid):.1f} m"


def change_words(change: RowChange) -> str:
    """What a change does to its row, in a few words."""
    words = []
    for name, (old, new) in change.columns.items():
        if name == GEOMETRY:
            if change.before is not None and change.after is not None:
                words.append(_moved_m(old, new))
        elif change.before is None:
            words.append(f"{name} {_written(new)}")
        elif change.after is not None:
            words.append(f"{name} {_written(old)} → {_written(new)}")
    more = len(words) - WORDS_SHOWN
    return "; ".join(words[:WORDS_SHOWN]) + (f" and {more} more" if more > 0 else "")


def parts(proposal: Proposal) -> list[Part]:
    """The parts that hold anything, in their order."""
    return [
        Part(
            name,
            len(rows),
            name in TAKEN,
            tuple((key, change_words(rows[key])) for key in list(rows)[:ROWS_SHOWN]),
        )
        for name, rows in parts_of(proposal).items()
        if rows
    ]
