"""Pipes that no valve parts from the pump: who mends them must stop the station."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.pipes.isolation import beyond_valves
from nightwater.pipes.laid import Laid

CODE: Final = "pipe-no-isolation"
SEVERITY: Final = Severity.NOTE
_MOST_NAMED: Final = 8


def find(laid: Laid) -> Iterator[Finding]:
    """One finding per pump station and its pipes; none where the record has no isolation valve."""
    segments = laid.segments
    if segments is None or not segments.valves.ids:
        return
    for feeds, pipes in beyond_valves(segments).items():
        named = ", ".join(laid.name("pipes", pipe) for pipe in pipes[:_MOST_NAMED])
        more = f" and {len(pipes) - _MOST_NAMED} more" if len(pipes) > _MOST_NAMED else ""
        yield Finding(
            SEVERITY,
            CODE,
            f"pipes:{pipes[0]}",
            f"A break on {named}{more} cannot be shut off while {', '.join(feeds)} runs: no "
            "isolation valve of the record stands between.",
            "Survey the valve at the station, or know that the pumps must be stopped and locked "
            "out for it.",
        )
