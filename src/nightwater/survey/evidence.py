"""How well a file knows against how well the record knows: surveyed > drawing > guessed."""

from __future__ import annotations

from typing import Any

from nightwater.findings import Finding, warning
from nightwater.ground.changes import GEOMETRY, RowChange, Values
from nightwater.ground.columns import EVIDENCE


def overwritten(before: Values, after: Values) -> list[str]:
    """Columns of which a known value would become another; evidence is none of them."""
    return [
        name
        for name, value in after.items()
        if name != "evidence"
        and before.get(name) is not None
        and value is not before.get(name)
        and (name == GEOMETRY or value != before.get(name))
    ]


def is_weaker(before: Values, told: Values) -> bool:
    """Whether a file says of itself that it knows a row less well than the record."""
    known, stated = before.get("evidence"), told.get("evidence")
    if known not in EVIDENCE or stated not in EVIDENCE:
        return False
    return EVIDENCE.index(stated) > EVIDENCE.index(known)


def weighed(before: Values, after: dict[str, Any], told: Values) -> dict[str, Any]:
    """The row after a survey; a weaker one that only fills gaps leaves its evidence as it is."""
    if is_weaker(before, told) and not overwritten(before, after):
        return {**after, "evidence": before["evidence"]}
    return after


def _contradicted(change: RowChange, told: Values) -> list[str]:
    """Known values that a weaker file would overwrite.

    A file that does not say how well it knows may fill and change columns, as a station list
    does, but a surveyed place it may not.
    """
    before, after = change.before or {}, change.after or {}
    lost = overwritten(before, after)
    if is_weaker(before, told):
        return lost
    unstated = told.get("evidence") is None and before.get("evidence") == EVIDENCE[0]
    return [GEOMETRY] if unstated and GEOMETRY in lost else []


def evidence_doubt(change: RowChange, told: Values, source: str) -> Finding | None:
    """Why a weaker survey should not overwrite what is known better; None where it does not."""
    lost = _contradicted(change, told)
    if not lost:
        return None
    names = ", ".join("its place" if name == GEOMETRY else name for name in lost)
    return warning(
        "weaker-evidence",
        f"{change.table}:{change.id}",
        f"{source} would overwrite {names} of {change.id}, which is known as "
        f"{(change.before or {})['evidence']}, on {told.get('evidence') or 'unstated'} evidence.",
        "Keep the record; or accept doubtful rows with --with-doubtful, or all such with "
        "--overrule.",
    )
