"""The form of a trim, as the desk takes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Final

from fastapi import Form

from nightwater.desk.course import Course, night_date
from nightwater.desk.exceptions import TrimWish
from nightwater.desk.patches import patch_of_subject
from nightwater.findings import UserError
from nightwater.units import UnitSystem, to_si

# What a trim may be about: value of the form, words, table that names it.
WHATS: Final[Mapping[str, tuple[str, str]]] = {
    "course": ("whole course", ""),
    "kind": ("kind of area", "kind"),
    "hole": ("hole", "holes"),
    "area": ("area", "areas"),
    "station": ("station", "stations"),
    "head": ("ground round a head", "heads"),
    "map": ("patch drawn on the map", ""),
}
PER_CENT: Final = 100.0


@dataclass(frozen=True)
class TrimForm:
    """What somebody filled in; see `trim_form`."""

    what: str
    name: str
    kind: str
    radius: str
    outline: str
    percent: str
    extra_min: str
    off: bool
    first: str
    last: str
    reason: str


def trim_form(
    *,
    what: Annotated[str, Form()],
    name: Annotated[str, Form(max_length=80)] = "",
    kind: Annotated[str, Form()] = "",
    radius: Annotated[str, Form()] = "",
    outline: Annotated[str, Form(max_length=20_000)] = "",
    percent: Annotated[str, Form()] = "",
    extra_min: Annotated[str, Form()] = "",
    off: Annotated[bool, Form()] = False,
    first: Annotated[str, Form()] = "",
    last: Annotated[str, Form()] = "",
    reason: Annotated[str, Form(max_length=300)] = "",
) -> TrimForm:
    """The dependency that reads the form: radius in the reader's unit, percent of the usual."""
    return TrimForm(
        what, name.strip(), kind, radius, outline.strip(), percent, extra_min, off, first, last,
        reason,
    )  # fmt: skip


def _number(text: str, what: str, usual: float) -> float:
    if not text.strip():
        return usual
    try:
        return float(text.replace("−", "-"))
    except ValueError:
        raise UserError(f"'{text}' is no number for {what}. Write digits, like 120.") from None


def _subject(form: TrimForm) -> str:
    if form.what not in WHATS:
        raise UserError(f"'{form.what}' is nothing that can be trimmed.")
    table = WHATS[form.what][1]
    if not table:
        return form.what
    name = form.kind if form.what == "kind" else form.name
    if not name:
        raise UserError(f"Say which {WHATS[form.what][0]}: its name or number is missing.")
    return f"{table}:{name}"


def _radius_m(form: TrimForm, units: UnitSystem) -> float | None:
    if form.what != "head" or not form.radius.strip():
        return None
    symbol = "ft" if units is UnitSystem.US else "m"
    return float(to_si(_number(form.radius, "the radius", 0.0), symbol))


def wish_of(form: TrimForm, course: Course, units: UnitSystem, tonight: date) -> TrimWish:
    """The trim that a form asks for; its first night is tonight where none is given.

    Raises:
        UserError: what is missing or does not read.
    """
    outline = form.outline if form.what == "map" and form.outline else None
    where, patch = patch_of_subject(course, _subject(form), _radius_m(form, units), outline)
    if not form.last:
        raise UserError("Give the last night; a trim without an end is forgotten, not ended.")
    return TrimWish(
        subject=where,
        factor=0.0 if form.off else _number(form.percent, "per cent", PER_CENT) / PER_CENT,
        extra_min=_number(form.extra_min, "minutes", 0.0),
        first_night=night_date(form.first) if form.first else tonight,
        last_night=night_date(form.last),
        reason=form.reason.strip(),
        patch=patch,
    )
