"""Keep what was measured in an audit, and correct it; nothing recorded is lost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final

import pandas as pd

from nightwater.desk.audit_cans import MOST_ML
from nightwater.desk.audit_kept import Audit, audit_of, plain_value
from nightwater.desk.course import Course
from nightwater.findings import ConflictError, UserError
from nightwater.ground.tables import TABLES

FACTS: Final = ("run_min", "throat_m2", "wind_m_s", "wind_from_deg", "pressure_kpa", "time", "text")


def check_can_correct(audit: Audit) -> None:
    """Refuse to change an audit that the record was changed by.

    Raises:
        ConflictError: it is used.
    """
    if audit.facts["state"] == "used":
        raise ConflictError(
            f"Audit {audit.label} was used for revision {audit.facts['used_in']}, so it stays as "
            "it is. Plan a new one."
        )


def _kept(earlier: Any, words: Sequence[str], who: str, now: datetime) -> str | None:
    """The list of corrections with the newest at its end; None where there are none."""
    before = [str(earlier)] if isinstance(earlier, str) and earlier else []
    new = [f"{now.isoformat(timespec='seconds')} {who}: {word}" for word in words]
    return "\n".join([*before, *new]) or None


def _differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """Values that were there and are no longer, in words."""
    return [
        f"{name} was {plain_value(before[name])}, now {value}"
        for name, value in after.items()
        if plain_value(before[name]) is not None and plain_value(before[name]) != value
    ]


def record_facts(
    course: Course, identity: str, facts: Mapping[str, Any], *, who: str, now: datetime
) -> None:
    """Keep how an audit was run: minutes, opening, wind, pressure, time, what was seen.

    Args:
        course: the course.
        identity: which audit.
        facts: some of `FACTS` in inside units; None empties one.
        who, now: for the list of corrections.

    Raises:
        NotFoundError: no such audit.
        ConflictError: it is used already.
        UserError: an unknown fact, or a number out of bounds.
    """
    audit = audit_of(course, identity)
    check_can_correct(audit)
    for name, value in facts.items():
        _check_fact(name, value)
    row = {**audit.facts, **facts}
    row["earlier"] = _kept(row["earlier"], _differences(audit.facts, facts), who, now)
    course.file.append("audits", pd.DataFrame([row], index=pd.Index([identity], name="id")))


def _check_fact(name: str, value: Any) -> None:
    if name not in FACTS:
        raise UserError(f"An audit has no fact '{name}'. Known: {', '.join(FACTS)}.")
    column = TABLES["audits"].by_name[name]
    if value is None or column.lowest is None or column.highest is None:
        return
    if not column.lowest <= float(value) <= column.highest:
        raise UserError(
            f"{name} of {value:g} cannot be; it goes from {column.lowest:g} to "
            f"{column.highest:g}. Check number and unit."
        )


def record_catches(
    course: Course, identity: str, caught_ml: Mapping[str, float], *, who: str, now: datetime
) -> int:
    """Keep what cans caught, by their number; what was recorded before is kept beside it.

    Returns:
        How many cans took a new value.

    Raises:
        NotFoundError: no such audit.
        ConflictError: it is used already.
        UserError: a can that the audit does not have, or a catch that cannot be.
    """
    audit = audit_of(course, identity)
    check_can_correct(audit)
    by_label = {str(label): str(can) for can, label in audit.cans["label"].items()}
    unknown = [label for label in caught_ml if label not in by_label]
    if unknown:
        raise UserError(f"Audit {audit.label} has no can {', '.join(unknown[:6])}.")
    for label, value in caught_ml.items():
        if not 0 <= value <= MOST_ML:
            raise UserError(f"Can {label}: {value:g} mL cannot be. Check the number.")
    new = {by_label[label]: {"caught_ml": value} for label, value in caught_ml.items()}
    changed = _write_cans(course, audit, new, who, now)
    if changed and audit.facts["state"] == "planned":
        row = {**audit.facts, "state": "measured"}
        course.file.append("audits", pd.DataFrame([row], index=pd.Index([identity], name="id")))
    return changed


def _write_cans(
    course: Course, audit: Audit, new: Mapping[str, Mapping[str, Any]], who: str, now: datetime
) -> int:
    rows = {}
    for can, values in new.items():
        before = {name: audit.cans.at[can, name] for name in audit.cans.columns}
        if all(plain_value(before[name]) == value for name, value in values.items()):
            continue
        words = _differences(before, values)
        kept = {"label": before["label"], "audit": audit.id, **values}
        rows[can] = {**kept, "earlier": _kept(plain_value(before["earlier"]), words, who, now)}
    if rows:
        frame = pd.DataFrame.from_dict(rows, orient="index")
        course.file.append("cans", frame.astype(object).rename_axis("id"))
    return len(rows)


def leave_out(
    course: Course, identity: str, label: str, reason: str, *, who: str, now: datetime
) -> None:
    """Let a can not count, for a reason; an empty reason lets it count again.

    Raises:
        NotFoundError: no such audit.
        ConflictError: it is used already.
        UserError: no such can.
    """
    audit = audit_of(course, identity)
    check_can_correct(audit)
    found = audit.cans.index[audit.cans["label"] == label]
    if not len(found):
        raise UserError(f"Audit {audit.label} has no can {label}.")
    values = {"left_out": f"{reason.strip()} ({who})" if reason.strip() else None}
    _write_cans(course, audit, {str(found[0]): values}, who, now)
