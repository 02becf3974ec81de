"""Patches of turf for a trim: drawn, typed, or round a head."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nightwater.desk.course import Course
from nightwater.findings import UserError
from nightwater.night.map_trims import MAP_SUBJECT

MOST_RADIUS_M: Final = 200.0
LEAST_PATCH_M2: Final = 1.0


def near_words(name: str, known: Iterable[str]) -> str:
    """A sentence that names what is written like a name; empty where nothing is."""
    near = get_close_matches(name, list(known), 3)
    return f" Did you mean {' or '.join(near)}?" if near else ""


def patch_around(course: Course, head: str, radius_m: float) -> BaseGeometry:
    """A round patch around a head, named by id or label.

    Raises:
        UserError: no such head, a head without a place, or a radius of nothing or too much.
    """
    if not 0 < radius_m <= MOST_RADIUS_M:
        raise UserError(
            f"A radius of {radius_m:g} m will not do; it must lie over 0, up to {MOST_RADIUS_M:g}."
        )
    heads = course.ground.heads
    found = [str(n) for n in heads.index if head in (str(n), str(heads["label"].get(n)))]
    if len(found) != 1:
        said = f"{len(found)} heads are called" if found else "There is no head"
        near = "" if found else near_words(head, [str(n) for n in heads.index])
        raise UserError(f"{said} '{head}'.{near or ' Use the id.'}")
    place = heads.geometry.loc[found[0]]
    if place is None:
        raise UserError(f"Head '{head}' has no place in the record, so nothing lies around it.")
    patch: BaseGeometry = shapely.buffer(place, radius_m)
    return patch


def outline_patch(text: str) -> BaseGeometry:
    """A patch from its corners as text, "x y, x y, x y …" in metres of the record's system.

    Raises:
        UserError: not three corners or more, or an outline that crosses itself.
    """
    try:
        corners = [tuple(map(float, corner.split())) for corner in text.split(",")]
        patch = shapely.Polygon(corners)
    except (ValueError, TypeError, shapely.errors.GEOSException) as wrong:
        raise UserError(
            "The outline does not read. Draw it on the map, or write three corners or more as "
            "'x y, x y, x y' in metres of the record."
        ) from wrong
    return patch


def checked_patch(patch: BaseGeometry | None) -> shapely.MultiPolygon:
    """A patch that can be kept.

    Raises:
        UserError: none, one that crosses itself, or one too small.
    """
    if patch is None or patch.is_empty:
        raise UserError("This trim has no patch. Draw one on the map, or name a head and a radius.")
    if not patch.is_valid or not np.isfinite(patch.bounds).all():
        raise UserError("The outline crosses itself. Draw it anew, corner by corner around.")
    if patch.area < LEAST_PATCH_M2:
        raise UserError(f"The patch is smaller than {LEAST_PATCH_M2:g} m². Draw a larger one.")
    return shapely.MultiPolygon(shapely.get_parts(patch).tolist())


def patch_of_subject(
    course: Course, subject: str, around_m: float | None, outline: str | None
) -> tuple[str, BaseGeometry | None]:
    """The subject under which a trim is kept, and its patch where it has one.

    Args:
        course: the course.
        subject: as written; "heads:NAME" takes a radius, "map" an outline.
        around_m: radius around a head.
        outline: corners, see `outline_patch`.

    Raises:
        UserError: a radius or an outline where none belongs, or none where one does.
    """
    table, _, name = subject.partition(":")
    if table == "heads":
        if around_m is None:
            raise UserError(
                f"A trim of head '{name}' needs a radius: the ground around it is what is trimmed. "
                "To trim its minutes, name its station."
            )
        return MAP_SUBJECT, patch_around(course, name, around_m)
    if around_m is not None:
        raise UserError("A radius belongs to a head. Name one, or leave the radius out.")
    if subject == MAP_SUBJECT:
        return MAP_SUBJECT, None if outline is None else outline_patch(outline)
    if outline is not None:
        raise UserError("An outline belongs to a patch on the map. Name 'map', or leave it out.")
    return subject, None
