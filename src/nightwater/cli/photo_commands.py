"""photo, photos, withdraw-photo: what is in the ground, photographed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightwater.cli.options import ByOption, CourseArgument, author, now
from nightwater.cli.printing import Format, FormatOption, print_rows, say
from nightwater.desk.course import open_course
from nightwater.desk.photographing import (
    PhotoWish,
    add_photo,
    photos_of,
    save_photos,
    withdraw_photo,
)
from nightwater.findings import UserError
from nightwater.survey.photos import MAX_PHOTO_BYTES

PHOTO_COLUMNS = (
    "id", "subject", "time", "author", "text", "width_px", "height_px", "withdrawn_by",
    "withdrawn", "withdrawn_why",
)  # fmt: skip


def _content(file: Path) -> bytes:
    try:
        with file.open("rb") as opened:
            return opened.read(MAX_PHOTO_BYTES + 1)
    except OSError as trouble:
        raise UserError(f"{file} cannot be read: {trouble.strerror}.") from trouble


def photo(
    course: CourseArgument,
    subject: Annotated[
        str, typer.Argument(metavar="SUBJECT", help="What it shows, as table:id: heads:H7-001.")
    ],
    file: Annotated[Path, typer.Argument(metavar="FILE", help="JPEG or PNG, up to 20 MB.")],
    text: Annotated[str, typer.Option("--text", help="What is to be seen, a line of words.")],
    by: ByOption = None,
) -> None:
    """Put a photo on the sheet of a head, station, area, valve, pipe or any other row."""
    wish = PhotoWish(subject, text, _content(file), file.name)
    with open_course(course) as opened:
        kept = add_photo(opened, wish, who=author(by), now=now())
    say(f"Kept photo {kept.id} of {subject}, {kept.size_px[0]} × {kept.size_px[1]} pixels.")


def photos(
    course: CourseArgument,
    subject: Annotated[
        str | None, typer.Argument(metavar="SUBJECT", help="As table:id; all where not given.")
    ] = None,
    save: Annotated[
        Path | None,
        typer.Option("--save", help="Write the JPEG files into this folder; withdrawn ones too."),
    ] = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """The photos of a row of the record, or of all, newest first, with those withdrawn."""
    with open_course(course) as opened:
        found = photos_of(opened, subject)
        if save is not None:
            save_photos(opened, found, save)
            say(f"Wrote {len(found)} files into {save}.")
    rows = [one.as_row() for one in found]
    print_rows(rows, PHOTO_COLUMNS, form, f"Photos of {subject or course.name}")


def withdraw_photo_command(
    course: CourseArgument,
    identity: Annotated[str, typer.Argument(metavar="ID", help="From 'photos'.")],
    why: Annotated[str, typer.Option("--why", help="Why; others will read it.")],
    by: ByOption = None,
) -> None:
    """Take a photo off its sheet. The file keeps it, with who withdrew it, when and why."""
    with open_course(course) as opened:
        gone = withdraw_photo(opened, identity, why, who=author(by), now=now())
    say(f"Withdrew photo {identity} of {gone.subject}: {gone.text}")


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    app.command()(photo)
    app.command()(photos)
    app.command("withdraw-photo")(withdraw_photo_command)
