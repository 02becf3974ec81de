"""The audit pages: plan, card, enter can by can, import, read, accept."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, File, Form, UploadFile
from starlette.responses import RedirectResponse, Response

from nightwater.desk.audit_accepting import accept_audit
from nightwater.desk.audit_cans import CATCH_UNITS
from nightwater.desk.audit_card import card_pdf, planned_minutes
from nightwater.desk.audit_entering import leave_out, record_catches, record_facts
from nightwater.desk.audit_import import import_catches, recalled_columns
from nightwater.desk.audit_kept import Audit, audit_of, audits_of
from nightwater.desk.audit_planning import AuditWish, plan_audit, stations_named
from nightwater.desk.audit_results import audit_result
from nightwater.desk.audit_wind import observed_wind
from nightwater.findings import UserError
from nightwater.ground.tables import WATERED_KINDS
from nightwater.spray.audit_plan import LEAST_CANS
from nightwater.web.access.roles import Deed
from nightwater.web.audits import view
from nightwater.web.audits.forms import (
    OPENINGS,
    PRESSURES,
    SPEEDS,
    ColumnsForm,
    FactsForm,
    PlanForm,
    facts_of,
    filled,
    number_of,
    opening_of,
)
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.survey.routes import uploads_of

router = APIRouter(prefix="/audits")
_MEASURES: Final = [allowed(Deed.MEASURE), OwnForm]
_RECORDS: Final = [allowed(Deed.RECORD), OwnForm]


def _areas(visit: Visit) -> list[tuple[str, str, str]]:
    areas = visit.course.ground.areas
    watered = areas[areas["kind"].isin(WATERED_KINDS).to_numpy()]
    names = visit.places.area_label
    return [(str(i), names.get(str(i), str(i)), str(k)) for i, k in watered["kind"].items()]


@router.get("")
def page(visit: CurrentVisit, area: str = "") -> Response:
    """Every audit, and the form that plans one."""
    return _listed(visit, PlanForm(area=area), "")


def _listed(visit: Visit, form: PlanForm, fault: str) -> Response:
    return visit.page(
        "audits/page.html",
        audits=audits_of(visit.course),
        areas=_areas(visit),
        names=visit.places.area_label,
        openings=OPENINGS,
        form=form,
        fault=fault,
        least=LEAST_CANS,
    )


@router.post("/plan", dependencies=_MEASURES)
def plan(visit: CurrentVisit, form: Annotated[PlanForm, Form()]) -> Response:
    """Place the cans and keep the plan."""
    try:
        cans = number_of(form.cans, "the number of cans")
        wish = AuditWish(
            area=form.area,
            stations=stations_named(visit.course, form.stations),
            cans=int(cans or LEAST_CANS),
            throat_m2=opening_of(form.opening, form.opening_unit),
            label=form.label,
        )
        made = plan_audit(visit.course, wish, who=visit.person.name, now=visit.server.now())
    except UserError as wrong:
        return _listed(visit, form, str(wrong))
    return RedirectResponse(f"/audits/{made}", 303)


def _coverage_area(visit: Visit, audit: Audit) -> str:
    """The audit's area where the Coverage page knows it; "" where it was taken out."""
    area = str(audit.facts["area"] or "")
    return area if area in visit.course.ground.areas.index else ""


@router.get("/{audit}")
def look(visit: CurrentVisit, audit: str) -> Response:
    """One audit: its cans, its figures, what it proposes."""
    result = audit_result(visit.course, audit)
    facts = result.audit.facts
    return visit.page(
        "audits/audit.html",
        audit=result.audit,
        result=result,
        minutes_planned=planned_minutes(visit.course, result.audit),
        figures=view.figure_rows(result, visit.units),
        comparison=view.comparison_words(result),
        cans=view.can_rows(result, visit.units),
        heads=view.head_rows(result, visit.units),
        parts=[view.part_words(part, visit.units) for part in result.parts],
        drawing=view.drawing(visit, result),
        legend=view.LEGEND,
        form=filled(
            facts,
            visit.units,
            visit.course.settings.site.timezone,
            observed_wind(visit.course, result.audit),
        ),
        area=_coverage_area(visit, result.audit),
        openings=OPENINGS,
        speeds=SPEEDS,
        pressures=PRESSURES,
    )


@router.get("/{audit}/card.pdf")
def card(visit: CurrentVisit, audit: str) -> Response:
    """The card to print."""
    pdf = card_pdf(visit.course, audit)
    named = {"content-disposition": f'inline; filename="audit-{audit}.pdf"'}
    return Response(pdf, media_type="application/pdf", headers=named)


def _next_can(audit: Audit, after: str) -> str:
    """The first can without a catch after one, else from the start; "" where all have one."""
    labels = [str(label) for label in audit.cans["label"]]
    lacking = {str(label) for label in audit.cans["label"][audit.cans["caught_ml"].isna()]}
    start = labels.index(after) + 1 if after in labels else 0
    return next((label for label in labels[start:] + labels[:start] if label in lacking), "")


def _entry(visit: Visit, audit: Audit, can: str, fault: str, typed: str = "") -> Response:
    labels = [str(label) for label in audit.cans["label"]]
    chosen = can if can in labels else _next_can(audit, "") or labels[0]
    at = labels.index(chosen)
    row = audit.cans.iloc[at]
    return visit.page(
        "audits/enter.html",
        audit=audit,
        can=chosen,
        before=labels[at - 1] if at else "",
        after=labels[at + 1] if at + 1 < len(labels) else "",
        caught="" if row["caught_ml"] != row["caught_ml"] else f"{row['caught_ml']:g}",
        typed=typed,
        total=len(labels),
        fault=fault,
        drawing=view.plain_drawing(visit, audit, chosen),
    )


@router.get("/{audit}/enter")
def enter(visit: CurrentVisit, audit: str, can: str = "") -> Response:
    """One big field for one can."""
    return _entry(visit, audit_of(visit.course, audit), can, "")


@router.post("/{audit}/enter", dependencies=_MEASURES)
def entered(
    visit: CurrentVisit,
    audit: str,
    can: Annotated[str, Form()],
    caught: Annotated[str, Form()] = "",
) -> Response:
    """Keep one can and go to the next that lacks its catch."""
    try:
        value = number_of(caught, f"can {can}")
        if value is None:
            raise UserError("Enter what the can caught, in millilitres; 0 where it is dry.")
        record_catches(
            visit.course, audit, {can: value}, who=visit.person.name, now=visit.server.now()
        )
    except UserError as wrong:
        return _entry(visit, audit_of(visit.course, audit), can, str(wrong), caught)
    following = _next_can(audit_of(visit.course, audit), can)
    where = f"/audits/{audit}/enter?can={following}" if following else f"/audits/{audit}"
    return RedirectResponse(where, 303)


@router.post("/{audit}/facts", dependencies=_MEASURES)
def facts(visit: CurrentVisit, audit: str, form: Annotated[FactsForm, Form()]) -> Response:
    """Keep how the audit was run."""
    said = facts_of(form, visit.course.settings.site.timezone)
    record_facts(visit.course, audit, said, who=visit.person.name, now=visit.server.now())
    return RedirectResponse(f"/audits/{audit}", 303)


@router.post("/{audit}/leave", dependencies=_MEASURES)
def leave(
    visit: CurrentVisit,
    audit: str,
    can: Annotated[str, Form()],
    reason: Annotated[str, Form(max_length=200)] = "",
    back: Annotated[str, Form()] = "",
) -> Response:
    """Let a can not count for a reason, or count again."""
    if not back and not reason.strip():
        raise UserError("Say why the can does not count; without a reason it counts.")
    words = "" if back else reason
    who, now = visit.person.name, visit.server.now()
    leave_out(visit.course, audit, can, words, who=who, now=now)
    return RedirectResponse(f"/audits/{audit}#cans", 303)


@router.post("/{audit}/file", dependencies=_MEASURES)
def send(visit: CurrentVisit, audit: str, file: Annotated[UploadFile, File()]) -> Response:
    """Take a file of catches in; nothing of it is kept yet."""
    content = file.file.read()
    sent = uploads_of(visit.request).keep(visit.person.id, file.filename or "", content)
    return RedirectResponse(f"/audits/{audit}/file/{sent}", 303)


def _columns(visit: Visit, audit: str, sent: str, said: dict[str, str], fault: str) -> Response:
    path = uploads_of(visit.request).path(visit.person.id, sent)
    found: Any = recalled_columns(visit.course, path)
    return visit.page(
        "audits/file.html",
        audit=audit_of(visit.course, audit),
        sent=sent,
        name=path.name,
        found=found,
        said=said or {"can": found.can, "caught": found.caught, "unit": found.unit},
        units_known=CATCH_UNITS,
        fault=fault,
    )


@router.get("/{audit}/file/{sent}")
def columns(visit: CurrentVisit, audit: str, sent: str) -> Response:
    """Which column is the can, which the catch, and in what."""
    return _columns(visit, audit, sent, {}, "")


@router.post("/{audit}/file/{sent}", dependencies=_MEASURES)
def take_file(
    visit: CurrentVisit,
    audit: str,
    sent: str,
    said: Annotated[ColumnsForm, Form()],
) -> Response:
    """Keep the catches of a file."""
    path = uploads_of(visit.request).path(visit.person.id, sent)
    try:
        who, now = visit.person.name, visit.server.now()
        columns_said = (said.can, said.caught, said.unit)
        import_catches(visit.course, audit, path, columns_said, who=who, now=now)
    except UserError as wrong:
        return _columns(visit, audit, sent, said.model_dump(), str(wrong))
    uploads_of(visit.request).forget(visit.person.id, sent)
    return RedirectResponse(f"/audits/{audit}", 303)


@router.post("/{audit}/accept", dependencies=_RECORDS)
def accept(
    visit: CurrentVisit,
    audit: str,
    stamp: Annotated[str, Form()] = "",
    part: Annotated[list[str] | None, Form()] = None,
) -> Response:
    """Make the chosen parts part of the record, as one revision."""
    who, now = visit.person.name, visit.server.now()
    accept_audit(visit.course, audit, part or [], stamp=stamp, who=who, now=now)
    return RedirectResponse(f"/audits/{audit}", 303)
