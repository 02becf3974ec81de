"""The Numbers page: rules as data, a preview, and renumbering as one revision."""

from __future__ import annotations

import json
from typing import Annotated, Any, Final
from urllib.parse import urlencode

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
        values="/numbers/values.json?" + urlencode({"rules": text}),
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


def _words(row: dict[str, Any]) -> str:
    now = row["label_now"] or "no label"
    return f"{row['label_proposed']} (now {now})" if row["changes"] else f"{row['label_proposed']}"


@router.get("/values.json")
def map_values(visit: CurrentVisit, rules: str = "") -> Response:
    """What the map says of each head by these rules; stations whose label changes are marked."""
    found = preview_numbers(visit.course, _rules(rules))
    texts = {f"heads:{r['id']}": _words(r) for r in found.every if r["table"] == "heads"}
    labels = {row["id"]: row["label_proposed"] for row in found.rows if row["table"] == "heads"}
    station = visit.course.ground.heads["station"].dropna()
    marked = {str(name): "amber" for head, name in station.items() if head in labels}
    kinds = visit.course.ground.areas["kind"].items()
    areas = {str(name): f"turf-{kind}" for name, kind in kinds}
    return JSONResponse(
        {
            "shown": {"labels": {"areas": areas, "stations": marked}},
            "texts": texts,
            "labels": labels,
        }
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
