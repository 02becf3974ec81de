"""Laterals that cannot carry the heads of one station at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.pipes.laid import TRUNKS, Laid

CODE: Final = "lateral-overloaded"
SEVERITY: Final = Severity.WARNING
LEAST_SHARE: Final = 1.005  # of the limit: a rounding is no overload


def _flows_l_s(laid: Laid, heads: list[str]) -> dict[str, float]:
    """What each lateral carries while these heads run together [L/s]."""
    kinds, flow = laid.ground.pipes["kind"], laid.linked.heads["flow_l_s"]
    carried: dict[str, float] = defaultdict(float)
    for head in heads:
        for pipe in laid.network.routes.get(head, ()):
            if kinds[pipe] not in TRUNKS and flow[head] > 0:
                carried[pipe] += float(flow[head])
    return carried


def find(laid: Laid) -> Iterator[Finding]:
    """Each such station, with the lateral it overloads most."""
    for station, heads in laid.linked.station_heads.items():
        carried = _flows_l_s(laid, heads)
        shares = {p: q / laid.limits_l_s[p] for p, q in carried.items() if p in laid.limits_l_s}
        worst = max(shares, key=lambda pipe: shares[pipe], default="")
        if not worst or shares[worst] < LEAST_SHARE:
            continue
        yield Finding(
            SEVERITY,
            CODE,
            f"stations:{station}",
            f"The heads of station {laid.name('stations', station)} draw {carried[worst]:.2f} L/s "
            f"through lateral {laid.name('pipes', worst)}; its velocity limit allows "
            f"{laid.limits_l_s[worst]:.2f} L/s.",
            "Check its inside diameter and its heads, or put a head on another station.",
        )
