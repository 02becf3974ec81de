"""Nozzles and heads whose flow is given as nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked

CODE: Final = "flow-zero"
SEVERITY: Final = Severity.ERROR
_GIVEN: Final = (("nozzles", "flow_l_s"), ("heads", "measured_flow_l_s"))


def find(linked: Linked) -> Iterator[Finding]:
    """Each given flow of zero or less; a missing one is another rule's."""
    for table, column in _GIVEN:
        flows = linked.ground.table(table)[column].astype(float)
        for identity, flow in flows[flows <= 0].items():
            yield Finding(
                SEVERITY,
                CODE,
                f"{table}:{identity}",
                f"{table[:-1].capitalize()} {linked.name(table, identity)} has a flow of "
                f"{flow:g} L/s, so no run of any length would water with it.",
                "Enter its flow, or leave it empty until somebody measures it.",
            )
