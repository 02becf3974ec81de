"""Bring a picture of the ground into the course, place it, take it out."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from nightwater.desk.course import Course
from nightwater.findings import Finding, NotFoundError, UserError
from nightwater.ground.changes import Changes, RowChange, plain_rows
from nightwater.ground.placement import Placement, place_image
from nightwater.ground.placement_doubts import place_findings, placement_findings
from nightwater.ground.record import Ground
from nightwater.ground.tables import TABLES
from nightwater.ground.transforms import Transform, TransformKind, transform_from
from nightwater.store.revisions import instant
from nightwater.survey.control_points import read_control_points
from nightwater.survey.picture_files import picture_file
from nightwater.survey.pictures import Picture, read_picture
from nightwater.survey.pyramid import cut_tiles, media_type, picture_digest

Points = NDArray[np.float64]
_EXTENT_TABLES: Final = ("areas", "holes", "heads", "pipes")


@dataclass(frozen=True)
class ImageWish:
    """What a person says of a picture.

    Attributes:
        crs: coordinate system of a world file or of control points, "EPSG:n".
        points: table of control points, or None to take the file's own place.
        kind: transform to use instead of choosing one.
        name: what people call it; the file's name where None.
    """

    crs: str | None = None
    points: Path | None = None
    kind: TransformKind | None = None
    name: str | None = None


@dataclass(frozen=True)
class ImageProposal:
    """A picture that is read, not yet in the course.

    Attributes:
        id, label: what its row will be called.
        picture: what it shows.
        points: control points, shape (n, 4): column, row, x, y.
        placement: how they place it; None without control points.
        transform: pixels to metres, or None where nobody knows yet.
        findings: doubts.
    """

    id: str
    label: str
    picture: Picture
    points: Points
    placement: Placement | None
    transform: Transform | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class CourseImage:
    """A picture in the course.

    Attributes:
        id, label: its row.
        picture: digest under which its tiles lie.
        size_px: width and height.
        transform: pixels to the record's metres, or None before it is placed.
        points: what it was placed by: `column_px`, `row_px`, `x_m`, `y_m`, `residual_m`, `used`.
        placed_by, placed: who and when; None before.
    """

    id: str
    label: str
    picture: str
    size_px: tuple[int, int]
    transform: Transform | None
    points: tuple[Mapping[str, Any], ...]
    placed_by: str | None
    placed: str | None


def propose_image(course: Course, path: Path, wish: ImageWish) -> ImageProposal:
    """Read a picture and place it; nothing is changed yet.

    Raises:
        UserError: the picture or its control points cannot be read, or do not place it.
    """
    crs = course.ground.crs
    points = _read_points(wish, crs)
    by_points = points is not None
    with picture_file(path) as file:
        said = None if by_points else wish.crs or file.system
        picture = read_picture(file.path, crs, said, placed=by_points)
    label = wish.name or path.stem
    identity = _free_id(label, course.ground.images)
    placement = None if points is None else fitted(points, picture.size_px, wish.kind)
    transform = picture.transform if placement is None else placement.transform
    doubts = image_doubts(course, transform, placement, picture.size_px, f"images:{identity}")
    findings = (*picture.findings, *doubts)
    pairs = np.empty((0, 4)) if points is None else points
    return ImageProposal(identity, label, picture, pairs, placement, transform, findings)


def _read_points(wish: ImageWish, record_crs: str) -> Points | None:
    return None if wish.points is None else read_control_points(wish.points, record_crs, wish.crs)


def fitted(
    points: ArrayLike, size_px: tuple[int, int], kind: TransformKind | None = None
) -> Placement:
    """The placement by control points of shape (n, 4): column, row, x, y.

    Raises:
        UserError: see `place_image`.
    """
    pairs = np.asarray(points, dtype=float).reshape(-1, 4)
    return place_image(pairs[:, :2], pairs[:, 2:], size_px, kind)


def image_doubts(
    course: Course,
    transform: Transform | None,
    placement: Placement | None,
    size_px: tuple[int, int],
    subject: str,
) -> list[Finding]:
    """What is doubtful about where a picture lies; nothing where it has no place."""
    if transform is None:
        return []
    doubts = [] if placement is None else placement_findings(placement, subject)
    return [*doubts, *place_findings(transform, size_px, record_extent(course.ground), subject)]


def record_extent(ground: Ground) -> tuple[float, float, float, float] | None:
    """Left, bottom, right, top [m] of what is drawn in the record; None where nothing is."""
    boxes = [ground.table(name).total_bounds for name in _EXTENT_TABLES]
    known = np.array([box for box in boxes if np.isfinite(box).all()])
    if not len(known):
        return None
    low, high = known[:, :2].min(axis=0), known[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _free_id(label: str, images: pd.DataFrame) -> str:
    stem = re.sub(r"[^a-z0-9]+", "-", label.lower()).strip("-")[:40] or "image"
    number, name = 1, stem
    while name in images.index:
        number += 1
        name = f"{stem}-{number}"
    return name


def accept_image(
    course: Course, proposal: ImageProposal, *, who: str, why: str, now: datetime
) -> str:
    """Make a picture part of the course: its tiles and its row, or neither.

    Returns:
        The id of the revision.

    Raises:
        ConflictError: somebody took the id meanwhile; nothing was saved.
    """
    picture = proposal.picture
    digest = picture_digest(picture.pixels)
    values: dict[str, Any] = {
        "label": proposal.label,
        "media_type": media_type(picture.pixels),
        "picture": digest,
        "width_px": picture.size_px[0],
        "height_px": picture.size_px[1],
    }
    if proposal.transform is not None:
        values |= _place_values(proposal.transform, who, now)
        values |= {"control_points": points_text(proposal.points, proposal.placement)}
        values |= {"evidence": "surveyed" if proposal.placement is None else "drawing"}
    tiles = ((t.level, t.column, t.row, t.content) for t in cut_tiles(picture.pixels))
    changes = Changes((RowChange("images", proposal.id, None, values),))
    return course.file.accept_picture(digest, tiles, changes, who=who, why=why, now=now)


def _place_values(transform: Transform, who: str, now: datetime) -> dict[str, Any]:
    return {
        "transform": json.dumps([number for row in transform.matrix for number in row]),
        "transform_kind": transform.kind.value,
        "placed_by": who,
        "placed": instant(now),
    }


def points_text(points: Points, placement: Placement | None) -> str | None:
    """Control points with what came of them, as JSON; None without any."""
    if placement is None:
        return None
    return json.dumps(point_rows(points, placement))


def point_rows(points: Points, placement: Placement) -> list[dict[str, Any]]:
    """Each control point with its distance from its place and whether it was used."""
    names = ("column_px", "row_px", "x_m", "y_m")
    return [
        {name: float(value) for name, value in zip(names, pair, strict=True)}
        | {"residual_m": round(float(off), 3), "used": index not in placement.wrong}
        for index, (pair, off) in enumerate(zip(points, placement.distance_m, strict=True))
    ]


def course_image(course: Course, identity: str) -> CourseImage:
    """One picture of the course.

    Raises:
        NotFoundError: no such picture.
    """
    row = _row(course, identity)
    if not row["picture"]:
        raise NotFoundError(f"images:{identity} has no picture in this file.")
    kind, numbers = row["transform_kind"], row["transform"]
    transform = transform_from(TransformKind(kind), json.loads(numbers)) if kind else None
    return CourseImage(
        id=identity,
        label=row["label"] or identity,
        picture=row["picture"],
        size_px=(int(row["width_px"]), int(row["height_px"])),
        transform=transform,
        points=tuple(json.loads(row["control_points"] or "[]")),
        placed_by=row["placed_by"],
        placed=row["placed"],
    )


def course_images(course: Course) -> list[CourseImage]:
    """Every picture of the course, in the order of its rows."""
    images = course.ground.images
    return [course_image(course, str(i)) for i in images.index[images["picture"].notna()]]


def _row(course: Course, identity: str) -> Mapping[str, Any]:
    rows = plain_rows(course.ground.images, TABLES["images"])
    if identity not in rows:
        raise NotFoundError(f"There is no picture '{identity}' in this course.")
    return rows[identity]


def move_image(
    course: Course,
    identity: str,
    points: ArrayLike,
    kind: TransformKind | None,
    *,
    who: str,
    why: str,
    now: datetime,
) -> str:
    """Place a picture of the course by control points, for the first time or anew.

    Args:
        course: the course.
        identity: id of its row.
        points: column, row, x, y of each point, shape (n, 4).
        kind: takes this transform instead of choosing one.
        who, why, now: for the history.

    Returns:
        The id of the revision.

    Raises:
        UserError: the points do not place it.
        ConflictError: somebody changed the row meanwhile; nothing was saved.
    """
    before = _row(course, identity)
    image = course_image(course, identity)
    pairs = np.asarray(points, dtype=float).reshape(-1, 4)
    placement = fitted(pairs, image.size_px, kind)
    after = {
        **before,
        **_place_values(placement.transform, who, now),
        "control_points": points_text(pairs, placement),
        "evidence": "drawing",
    }
    return course.file.accept(
        Changes((RowChange("images", identity, before, after),)), who, why, now
    )


def remove_image(course: Course, identity: str, *, who: str, why: str, now: datetime) -> str:
    """Take a picture out of the record; undo brings it back, so its tiles stay.

    Raises:
        NotFoundError: no such picture.
    """
    change = RowChange("images", identity, _row(course, identity), None)
    return course.file.accept(Changes((change,)), who, why, now)


def read_points(course: Course, path: Path, crs: str | None) -> Points:
    """Control points of a file, for a picture that is in the course already.

    Raises:
        UserError: see `read_control_points`.
    """
    return read_control_points(path, course.ground.crs, crs)


def check_has_place(proposal: ImageProposal) -> None:
    """Refuse to go on as if a picture without a place had one.

    Raises:
        UserError: neither the file nor control points place it.
    """
    if proposal.transform is None:
        raise UserError(
            f"{proposal.picture.name} does not say where it lies. Give control points with "
            "--points, put a world file beside it, or keep it with --unplaced and place it on "
            "its page."
        )
