"""Squares of pictures, the list for the map, and placing one by control points."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Final

from fastapi import APIRouter, Form
from fastapi import Query as InAddress
from pydantic import Field
from starlette.responses import JSONResponse, RedirectResponse, Response

from nightwater.desk.image_tiles import DrawnTile, map_tile, picture_tile, tile_grid
from nightwater.desk.imaging import (
    CourseImage,
    course_image,
    course_images,
    move_image,
    remove_image,
)
from nightwater.survey.pyramid import TILE_PX, levels
from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.images.points import (
    Pair,
    fit,
    pairs_array,
    pairs_from,
    pairs_text,
    without,
)
from nightwater.web.server import wants_fragment

router = APIRouter(prefix="/ground")
_FOR_EVER: Final = "private, max-age=31536000, immutable"
_ASK_AGAIN: Final = "private, no-cache"
PointsText = Annotated[str, Field(max_length=4000)]


def image_document(image: CourseImage) -> dict[str, Any]:
    """A placed picture as the map element reads it."""
    grid = tile_grid(image)
    return {
        "id": image.id,
        "label": image.label,
        "extent_m": grid.extent_m,
        "origin_m": grid.origin_m,
        "resolutions_m": grid.resolutions_m,
        "tile_px": TILE_PX,
        "address": f"/ground/images/{image.id}/{{z}}/{{x}}/{{y}}?v={grid.version}",
    }


@router.get("/images.json")
def listed(visit: CurrentVisit) -> Response:
    """Every picture that has a place."""
    placed = [image for image in course_images(visit.course) if image.transform is not None]
    return JSONResponse({"images": [image_document(image) for image in placed]})


def _tile_answer(visit: Visit, tag: str, tile: Callable[[], DrawnTile], *, fixed: bool) -> Response:
    headers = {"etag": f'"{tag}"', "cache-control": _FOR_EVER if fixed else _ASK_AGAIN}
    if visit.request.headers.get("if-none-match", "").removeprefix("W/") == f'"{tag}"':
        return Response(status_code=304, headers=headers)
    drawn = tile()
    return Response(drawn.content, media_type=drawn.media_type, headers=headers)


@router.get("/images/{identity}/{z}/{x}/{y}")
def square(visit: CurrentVisit, identity: str, *, z: int, x: int, y: int, v: str = "") -> Response:
    """A square of the map as a picture shows it; `v` names the edition and never changes."""
    image = course_image(visit.course, identity)
    version = tile_grid(image).version
    return _tile_answer(
        visit,
        f"{version}-{z}-{x}-{y}",
        lambda: map_tile(visit.course, image, z, x, y),
        fixed=v == version,
    )


@router.get("/pictures/{identity}/{level}/{x}/{y}")
def own_square(
    visit: CurrentVisit, identity: str, *, level: int, x: int, y: int, v: str = ""
) -> Response:
    """A square of the picture itself."""
    image = course_image(visit.course, identity)
    return _tile_answer(
        visit,
        f"{image.picture}-{level}-{x}-{y}",
        lambda: picture_tile(visit.course, image, level, x, y),
        fixed=v == image.picture,
    )


def _values(visit: Visit, identity: str, text: str | None) -> dict[str, Any]:
    image = course_image(visit.course, identity)
    pairs = _kept_pairs(image) if text is None else pairs_from(text)
    return {
        "image": image,
        "fit": fit(visit.course, image, pairs),
        "points": pairs_text(pairs),
        "without": without,
        "levels": levels(image.size_px),
        "tile_px": TILE_PX,
    }


def _kept_pairs(image: CourseImage) -> tuple[Pair, ...]:
    return tuple(
        (pair["column_px"], pair["row_px"], pair["x_m"], pair["y_m"]) for pair in image.points
    )


def _with_typed(text: str | None, typed: list[float | None]) -> str | None:
    if None in typed:
        return text
    return ";".join(filter(None, [text, ",".join(map(str, typed))]))


Typed = Annotated[float | None, InAddress()]


@router.get("/place-image/{identity}")
def page(
    visit: CurrentVisit,
    identity: str,
    *,
    points: Annotated[PointsText | None, InAddress()] = None,
    column: Typed = None,
    row: Typed = None,
    x: Typed = None,
    y: Typed = None,
) -> Response:
    """Pick points on the picture and on the map; what they give so far."""
    text = _with_typed(points, [column, row, x, y])
    template = "images/fit.html" if wants_fragment(visit.request) else "images/page.html"
    return visit.page(template, **_values(visit, identity, text))


@router.post("/place-image/{identity}", dependencies=[allowed(Deed.PLACE), OwnForm])
def accept(visit: CurrentVisit, identity: str, points: Annotated[PointsText, Form()]) -> Response:
    """Place the picture by these points, as a revision."""
    pairs = pairs_array(pairs_from(points))
    who, now = visit.person.name, visit.server.now()
    move_image(visit.course, identity, pairs, None, who=who, why="placed by points", now=now)
    return RedirectResponse("/ground#map", 303)


@router.post("/place-image/{identity}/remove", dependencies=[allowed(Deed.PLACE), OwnForm])
def remove(visit: CurrentVisit, identity: str) -> Response:
    """Take the picture out, as a revision that can be undone."""
    who, now = visit.person.name, visit.server.now()
    remove_image(visit.course, identity, who=who, why="taken off the map", now=now)
    return RedirectResponse("/ground#map", 303)
