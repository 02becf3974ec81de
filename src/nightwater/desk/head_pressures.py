"""The pressure that each head has at night: of the pipe model where there is one."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from dataclasses import dataclass, field, replace
from threading import Lock
from typing import Final

import pandas as pd

from nightwater.findings import Finding, UserError, note
from nightwater.ground.record import Ground
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.pipes.typical_minute import TypicalMinute, typical_minute

_MOST_KEPT: Final = 8
_DEPENDS: Final = ("heads", "nozzles", "stations", "pipes", "valves", "pumps", "sources")


@dataclass(frozen=True)
class HeadPressures:
    """Where the pressures at the heads come from, and those that are not the record's.

    Attributes:
        changed_kpa: pressure at the nozzle by the solved pipes where it is not the record's,
            index = head id; empty without a pipe model.
        solved: how many heads the solved pipes tell of; 0 without a pipe model.
        recorded: how many heads have the record's pressure, as no pipe tells of them.
        short: ids of heads that hold their pressure and do not get it.
        open: ids of heads that hold none and have that of the line.
        sets: how many sets of stations were solved.
        fullest_l_s: design flow of the fullest of them.
        doubts: findings about the network, and of the engine about those sets.
        reason: why no pressure is of the pipes; empty where some are.
    """

    changed_kpa: pd.Series[float] = field(default_factory=lambda: pd.Series(dtype=float))
    solved: int = 0
    recorded: int = 0
    short: tuple[str, ...] = ()
    open: tuple[str, ...] = ()
    sets: int = 0
    fullest_l_s: float = 0.0
    doubts: tuple[Finding, ...] = ()
    reason: str = ""

    @property
    def words(self) -> str:
        """Where the pressures come from, in a sentence or two."""
        if self.reason:
            return f"Pressures at the heads are the record's, else their nozzles': {self.reason}"
        told = (
            f"Pressures at {self.solved:,} heads come from the solved pipes, each head while its "
            f"station runs in a typical minute: {len(self.short):,} get less than they hold"
        )
        loose = f", {len(self.open):,} hold none and have the line's" if self.open else ""
        rest = (
            f" {self.recorded:,} that no feed reaches or no station runs keep the record's."
            if self.recorded
            else ""
        )
        return f"{told}{loose}.{rest}"

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Where pressures come from, and what to do for better ones."""
        if self.reason:
            return (
                note(
                    "pressure-from-record",
                    "heads:*",
                    f"The pressure at each head is the record's, else its nozzle's: {self.reason}",
                    "Survey pipes, pumps and levels; then pressures come from the solved pipes.",
                ),
            )
        if not self.short:
            return ()
        named = ", ".join(self.short[:5]) + (" …" if len(self.short) > 5 else "")
        return (
            note(
                "pressure-below-design",
                "heads:*",
                f"By the solved pipes {len(self.short)} heads get less than their pressure while "
                f"their station runs in a typical minute: {named}. Maps and fitted minutes take "
                "what they get.",
                "Look at elevation, pump pressure and pipe sizes; Coverage tells what it costs.",
            ),
        )


def _of_record(ground: Ground, reason: str) -> HeadPressures:
    return HeadPressures(recorded=len(ground.heads), reason=reason)


def _of_pipes(ground: Ground, found: TypicalMinute) -> HeadPressures:
    known = found.heads[found.heads["line_kpa"].notna()]
    if known.empty:
        return _of_record(ground, "no head of a station could be solved in the pipes.")
    nozzle = found.nozzle_kpa.reindex(known.index)
    short = known["holds"] & (nozzle < known["design_kpa"])
    loose = ~known["holds"]
    return HeadPressures(
        changed_kpa=nozzle[short | loose],
        solved=len(known),
        recorded=len(ground.heads) - len(known),
        short=tuple(str(name) for name in known.index[short]),
        open=tuple(str(name) for name in known.index[loose]),
        sets=found.sets,
        fullest_l_s=found.fullest_l_s,
        doubts=found.findings,
    )


def _solved(ground: Ground, pump_use: float) -> HeadPressures:
    try:
        network, built = build_hydraulic_network(ground)
        if not network.heads:
            return _of_record(ground, "no head stands on a pipe that a pump or source feeds.")
        found = _of_pipes(ground, typical_minute(ground, network, pump_use))
        return replace(found, doubts=(*built, *found.doubts))
    except UserError as refused:
        return _of_record(ground, str(refused))


def _digest(ground: Ground) -> str:
    """Of all that pressures depend on."""
    told = hashlib.sha256(ground.crs.encode())
    for name in _DEPENDS:
        rows = ground.table(name)
        if "geometry" in rows:
            for shape in rows.geometry.to_wkb():
                told.update(shape or b"-")
        plain = pd.DataFrame(rows.drop(columns="geometry", errors="ignore"))
        told.update(plain.to_csv().encode())
    return told.hexdigest()


_kept: OrderedDict[str, HeadPressures] = OrderedDict()
_lock = Lock()


def head_pressures(ground: Ground, pump_use: float) -> HeadPressures:
    """The pressures at the heads, each while its own station runs in a typical minute.

    Which stations run beside it is told in docs/how/spray.md. The answer is kept in memory by
    a digest of all that it depends on.

    Args:
        ground: the record.
        pump_use: share of the pumps' capacity that a night may use, as the settings say.

    Returns:
        The pressures; the record's with a reason where its pipes cannot be solved.
    """
    key = f"{_digest(ground)} {pump_use!r}"
    with _lock:
        found = _kept.get(key)
    if found is None:
        found = _solved(ground, pump_use)
        with _lock:
            _kept[key] = found
            while len(_kept) > _MOST_KEPT:
                _kept.popitem(last=False)
    return found
