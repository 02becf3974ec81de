"""Labels out of the trade's order, where most labels counted with them keep it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.findings import Finding, Severity
from nightwater.ground.label_order import counted_alike, out_of_order
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "label-out-of-order"
SEVERITY: Final = Severity.NOTE
SCOPE: Final = Scope.PLACE
LEAST_LABELS: Final = 5  # of fewer nobody can say which order is meant
MOST_SHARE: Final = 1 / 3  # more is another order than the rules', not a mistake


def _between(labels: Sequence[str], kept: NDArray[np.bool_], place: int) -> str:
    """Words for the nearest labels in order before and behind a place."""
    before = [label for label, sound in zip(labels[:place], kept[:place], strict=True) if sound]
    behind = [
        label for label, sound in zip(labels[place + 1 :], kept[place + 1 :], strict=True) if sound
    ]
    if before and behind:
        return f"between {before[-1]} and {behind[0]}"
    return f"behind {before[-1]}" if before else f"before {behind[0]}"


def find(linked: Linked) -> Iterator[Finding]:
    """Each head and station whose label stands out of the order of those counted with it."""
    for like in counted_alike(linked.ground, linked.number_rules, linked.area_holes):
        kept = like["on_side"].to_numpy(dtype=bool).copy()
        kept[kept] = ~out_of_order(like["number_now"].to_numpy(dtype=np.int64)[kept])
        if len(like) < LEAST_LABELS or (~kept).mean() > MOST_SHARE:
            continue
        labels = [str(label) for label in like["label_now"]]
        for place in np.flatnonzero(~kept):
            table, identity = like["table"].iloc[place], like["id"].iloc[place]
            yield Finding(
                SEVERITY,
                CODE,
                f"{table}:{identity}",
                f"{table[:-1].capitalize()} {labels[place]} stands "
                f"{_between(labels, kept, int(place))} by the club's order of numbering.",
                "Look at the tags on the ground, or renumber the hole.",
            )
