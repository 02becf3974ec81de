"""Heads that throw into a bunker or onto water."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "throw-off-turf"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
MOST_SHARE: Final = 0.35  # of the sector; some sand within the throw cannot be helped
KINDS: Final = ("bunker", "water")  # paths and buildings have a rule of their own


def find(linked: Linked) -> Iterator[Finding]:
    """Each head with more than `MOST_SHARE` of its sector on one of these."""
    for kind in KINDS:
        for identity, share in linked.thrown_on(kind, MOST_SHARE):
            yield Finding(
                SEVERITY,
                CODE,
                f"heads:{identity}",
                f"Head {linked.name('heads', identity)} throws {share:.0%} of its water "
                f"on {kind} ground.",
                "Turn or narrow its arc, give it a smaller nozzle, or redraw the outline.",
            )
