"""The Numbers page: rules as data, a preview, and renumbering as one revision."""

from __future__ import annotations

import json
from typing import Annotated, Any, Final

from fastapi import APIRouter, Form
from starlette.responses import JSONResponse, RedirectResponse, Response

from nightwater.desk.numbering import NumberPreview, preview_numbers, renumber_course
from nightwater.findings import UserError
from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed

router = APIRouter(prefix="/numbers")
SHOWN: Final = 60
_GUARDS = [allowed(Deed.RECORD), OwnForm]


def _rules(text: str) -> dict[str, Any]:
    try:
        rules = json.loads(text or "{}")
    except ValueError as wrong:
        raise UserError(f"The rules are not JSON: {wrong}.") from None
    if not isinstance(rules, dict):
        raise UserError("The rules must be a set of names and values, in braces.")
    return rules


def _page(visit: Visit, text: str, fault: str, preview: NumberPreview | None) -> Response:
    rows = [] if preview is None else preview.rows
    return visit.page(
        "numbers/page.html",
        text=text,
        fault=fault,
        preview=preview,
        rows=rows[:SHOWN],
        more=max(len(rows) - SHOWN, 0),
    )


def _shown(visit: Visit, text: str) -> Response:
    try:
        return _page(visit, text, "", preview_numbers(visit.course, _rules(text)))
    except UserError as wrong:
        return _page(visit, text, str(wrong), None)


@router.get("")
def page(visit: CurrentVisit) -> Response:
    """The club's rules and what they would change now."""
    rules = dict(visit.course.settings.record.numbers)
    return _shown(visit, json.dumps(rules, indent=2, ensure_ascii=False))


@router.post("/preview", dependencies=[OwnForm])
def preview(visit: CurrentVisit, rules: Annotated[str, Form()] = "") -> Response:
    """What other rules would change; nothing is saved."""
    return _shown(visit, rules)


@router.post("/labels.json", dependencies=[OwnForm])
def labels(visit: CurrentVisit, rules: Annotated[str, Form()] = "") -> Response:
    """Proposed labels by subject, for the map."""
    found = preview_numbers(visit.course, _rules(rules))
    return JSONResponse(
        {f"{row['table']}:{row['id']}": row["label_proposed"] for row in found.every}
    )


@router.post("/accept", dependencies=_GUARDS)
def accept(
    visit: CurrentVisit, rules: Annotated[str, Form()] = "", hole: Annotated[str, Form()] = ""
) -> Response:
    """Keep the rules and renumber by them: all holes, or one."""
    renumber_course(
        visit.course,
        _rules(rules),
        [hole.strip()] if hole.strip() else [],
        who=visit.person.name,
        why=f"renumbered {'hole ' + hole.strip() if hole.strip() else 'the course'}",
        now=visit.server.now(),
    )
    return RedirectResponse("/numbers", 303)
