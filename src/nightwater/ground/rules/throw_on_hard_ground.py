"""Heads that throw onto a path or against a building."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "throw-on-hard-ground"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
# Of the sector. A cart path through the middle of a full circle takes some 8 % of it and cannot
# be helped; a wall is wetted by whatever reaches it, less is drawing error.
MOST_SHARE: Final[Mapping[str, float]] = {"path": 0.2, "building": 0.03}


def find(linked: Linked) -> Iterator[Finding]:
    """Each head with more than its kind's `MOST_SHARE` of the sector on one of these."""
    for kind, most_share in MOST_SHARE.items():
        for identity, share in linked.thrown_on(kind, most_share):
            yield Finding(
                SEVERITY,
                CODE,
                f"heads:{identity}",
                f"Head {linked.name('heads', identity)} throws {share:.0%} of its water on a "
                f"{kind}.",
                "Turn or narrow its arc, give it a smaller nozzle, or redraw the outline. Hold "
                "the station while people pass there.",
            )
