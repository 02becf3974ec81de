"""image, images: pictures of the ground."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from nightwater.cli.options import ByOption, CourseArgument, WhyOption, author, confirmed, now
from nightwater.cli.printing import (
    Format,
    FormatOption,
    leave_by,
    print_findings,
    print_rows,
    say,
)
from nightwater.desk.course import Course, open_course
from nightwater.desk.imaging import (
    ImageWish,
    accept_image,
    check_has_place,
    course_image,
    course_images,
    fitted,
    image_doubts,
    move_image,
    point_rows,
    propose_image,
    read_points,
    remove_image,
)
from nightwater.findings import UserError
from nightwater.ground.placement import Placement
from nightwater.ground.transforms import TransformKind

POINT_COLUMNS = ("point", "column_px", "row_px", "x_m", "y_m", "residual_m", "used")
IMAGE_COLUMNS = ("id", "label", "width_px", "height_px", "transform", "placed_by", "placed")
PointsOption = Annotated[
    Path | None,
    typer.Option(
        "--points",
        help="Control points: column,row and longitude,latitude or x_m,y_m, or x,y with --crs.",
    ),
]
KindOption = Annotated[
    TransformKind | None,
    typer.Option("--transform", help="Use this transform instead of choosing by residuals."),
]
CrsOption = Annotated[
    str | None,
    typer.Option("--crs", help="Coordinate system of a world file or of points in x,y."),
]


def image(
    course: CourseArgument,
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="GeoTIFF; PNG, JPEG, TIFF, world file beside; or a zip."
        ),
    ],
    points: PointsOption = None,
    crs: CrsOption = None,
    name: Annotated[
        str | None,
        typer.Option("--name", help="What people call it; the file's name if not given."),
    ] = None,
    transform: KindOption = None,
    unplaced: Annotated[
        bool, typer.Option("--unplaced", help="Keep it without a place; pick points on its page.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Accept without asking.")] = False,
    why: WhyOption = "image",
    by: ByOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Bring an aerial photo or a scanned drawing into the course, placed on the map."""
    with open_course(course) as opened:
        proposal = propose_image(opened, file, ImageWish(crs, points, transform, name))
        if not unplaced:
            check_has_place(proposal)
        _show(proposal.points, proposal.placement, form)
        if form is Format.TABLE:
            print_findings(proposal.findings, form, f"Findings about {file.name}")
        if yes or confirmed(f"Keep the picture as images:{proposal.id}?"):
            made = accept_image(opened, proposal, who=author(by), why=why, now=now())
            say(f"Kept images:{proposal.id} as revision {made}.")
            if proposal.transform is None:
                say(
                    f"Place it on the page /ground/place-image/{proposal.id} of 'nightwater serve'."
                )
        else:
            say("Nothing was changed.")
    leave_by(proposal.findings)


def _show(points: Any, placement: Placement | None, form: Format) -> None:
    if placement is None:
        return
    rows = [{"point": n} | row for n, row in enumerate(point_rows(points, placement), 1)]
    print_rows(rows, POINT_COLUMNS, form, "Control points")
    say(f"Transform: {placement.reason}.")
    say(
        f"Agreement {placement.rms_m:.2f} m; expected error {placement.worst_inside_m:.2f} m among "
        f"the points, {placement.worst_outside_m:.2f} m at the worst corner."
    )


def place_image(
    course: CourseArgument,
    identity: Annotated[str, typer.Argument(metavar="ID", help="From 'images'.")],
    points: PointsOption = None,
    crs: CrsOption = None,
    transform: KindOption = None,
    remove: Annotated[
        bool, typer.Option("--remove", help="Take the picture out; 'undo' brings it back.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Accept without asking.")] = False,
    why: WhyOption = "image",
    by: ByOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Place a picture of the course by control points, anew or for the first time; or remove it."""
    with open_course(course) as opened:
        if remove:
            made = remove_image(opened, identity, who=author(by), why=why, now=now())
            say(f"Took images:{identity} out as revision {made}.")
            return
        if points is None:
            raise UserError("Give control points with --points, or take it out with --remove.")
        _place(opened, identity, read_points(opened, points, crs), transform, form, yes, why, by)


def _place(
    opened: Course,
    identity: str,
    pairs: Any,
    transform: TransformKind | None,
    form: Format,
    yes: bool,
    why: str,
    by: str | None,
) -> None:
    size_px = course_image(opened, identity).size_px
    placement = fitted(pairs, size_px, transform)
    findings = image_doubts(opened, placement.transform, placement, size_px, f"images:{identity}")
    _show(pairs, placement, form)
    if form is Format.TABLE:
        print_findings(findings, form, f"Findings about images:{identity}")
    if yes or confirmed("Place the picture so?"):
        made = move_image(opened, identity, pairs, transform, who=author(by), why=why, now=now())
        say(f"Placed images:{identity} as revision {made}.")
    else:
        say("Nothing was changed.")
    leave_by(findings)


def images(course: CourseArgument, form: FormatOption = Format.TABLE) -> None:
    """The pictures of the course and how each was placed."""
    with open_course(course) as opened:
        rows = [
            {
                "id": one.id,
                "label": one.label,
                "width_px": one.size_px[0],
                "height_px": one.size_px[1],
                "transform": one.transform.kind.value if one.transform else None,
                "placed_by": one.placed_by,
                "placed": one.placed,
            }
            for one in course_images(opened)
        ]
    print_rows(rows, IMAGE_COLUMNS, form, f"Pictures of {course.name}")


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    for command in (image, images, place_image):
        app.command()(command)
