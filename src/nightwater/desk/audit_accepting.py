"""Make parts of what an audit proposes part of the record."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

import pandas as pd

from nightwater.desk.audit_entering import check_can_correct
from nightwater.desk.audit_proposal import Part
from nightwater.desk.audit_results import audit_result
from nightwater.desk.course import Course
from nightwater.desk.proposing import accept_ground
from nightwater.findings import ConflictError, UserError
from nightwater.ground.edits.operations import EditRules, apply_operations, read_operations


def operations_of(parts: Collection[Part]) -> list[dict[str, Any]]:
    """Parts as plain edit operations, one for each row."""
    rows: dict[str, dict[str, float]] = {}
    for part in parts:
        rows.setdefault(part.subject, {}).update(part.values)
    return [
        {"op": "set", "table": subject.partition(":")[0], "ids": [subject.partition(":")[2]],
         "values": values}
        for subject, values in rows.items()
    ]  # fmt: skip


def accept_audit(
    course: Course,
    identity: str,
    keys: Collection[str],
    *,
    stamp: str | None = None,
    who: str,
    now: datetime,
) -> str:
    """Make chosen parts of an audit's proposal part of the record; the audit is then used.

    Args:
        course: the course.
        identity: which audit.
        keys: of the parts.
        stamp: `AuditResult.stamp` of what the person looked at; None does not ask.
        who, now: for the history.

    Returns:
        The id of the revision.

    Raises:
        ConflictError: the audit is used, or its proposal changed since it was looked at.
        UserError: nothing was chosen, or a part that is not proposed.
    """
    result = audit_result(course, identity)
    check_can_correct(result.audit)
    if stamp is not None and stamp != result.stamp:
        raise ConflictError("The proposal changed since you looked at it. Look again, then accept.")
    known = {part.key for part in result.parts}
    unknown = [key for key in keys if key not in known]
    if unknown:
        raise UserError(f"The audit does not propose '{unknown[0]}'. Look at its page again.")
    chosen = [part for part in result.parts if part.key in set(keys)]
    if not chosen:
        raise UserError("Nothing was chosen, so nothing was changed.")
    why = f"audit {result.audit.label}"
    operations = read_operations(operations_of(chosen))
    revision = accept_ground(
        course,
        lambda ground: apply_operations(ground, operations, EditRules()).ground,
        who,
        why,
        now,
    )
    if revision is None:
        raise UserError("Nothing would change: the record is like that already.")
    used = {**result.audit.facts, "state": "used", "used_in": revision}
    course.file.append("audits", pd.DataFrame([used], index=pd.Index([identity], name="id")))
    return revision
