"""Lines of play that were drawn from the green to the tee."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.play import backward_lines
from nightwater.ground.scopes import Scope

CODE: Final = "hole-line-backwards"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.BESIDE_HEADS


def find(linked: Linked) -> Iterator[Finding]:
    """Each such hole."""
    backwards = backward_lines(linked.ground)
    for identity in backwards.index[backwards]:
        yield Finding(
            SEVERITY,
            CODE,
            f"holes:{identity}",
            f"The line of {linked.name('holes', identity)} begins on a green and ends on a tee.",
            "Turn it round; until then it is read from its end.",
        )
