"""Photos of rows of the record: added, shown newest first, withdrawn with a reason."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image

from nightwater.desk.course import Course
from nightwater.desk.photographing import (
    Photo,
    PhotoWish,
    add_photo,
    photo_content,
    photo_of,
    photos_of,
    save_photos,
    withdraw_photo,
)
from nightwater.findings import ConflictError, NotFoundError, UserError

NOON = datetime(2026, 7, 14, 18, tzinfo=UTC)
HEAD = "heads:H-F004"


def jpeg(colour: str = "green") -> bytes:
    target = io.BytesIO()
    Image.new("RGB", (640, 480), colour).save(target, "JPEG")
    return target.getvalue()


def add(course: Course, colour: str = "green", subject: str = HEAD, minutes: int = 0) -> Photo:
    wish = PhotoWish(subject, f" {colour}\n nozzle ", jpeg(colour), "head.jpg")
    return add_photo(course, wish, who="Pilar", now=NOON + timedelta(minutes=minutes))


def test_a_photo_is_kept_with_words_author_and_time(course: Course) -> None:
    photo = add(course)
    assert photos_of(course, HEAD) == [photo]
    assert (photo.text, photo.author, photo.time) == ("green nozzle", "Pilar", NOON)
    assert photo.size_px == (640, 480)
    assert Image.open(io.BytesIO(photo_content(course, photo, "whole"))).size == (640, 480)
    assert Image.open(io.BytesIO(photo_content(course, photo, "small"))).size == (320, 240)
    assert photo.as_row()["withdrawn"] is None


def test_the_newest_comes_first_even_within_a_second(course: Course) -> None:
    late = add(course, "red", minutes=5)
    first, second = add(course, "green"), add(course, "blue")
    assert photos_of(course, HEAD) == [late, second, first]
    elsewhere = add(course, "green", "areas:A-F")
    assert photos_of(course, "areas:A-F") == [elsewhere]
    assert len(photos_of(course)) == 4


def test_the_record_and_its_history_stay_as_they_are(course: Course) -> None:
    before = len(course.file.revisions())
    add(course)
    assert len(course.file.revisions()) == before


@pytest.mark.parametrize(
    ("subject", "kind"),
    [
        ("heads:none", NotFoundError),
        ("nothing:x", UserError),
        ("notes:x", UserError),
        ("", UserError),
    ],
)
def test_only_rows_of_the_record_have_photos(
    course: Course, subject: str, kind: type[UserError]
) -> None:
    with pytest.raises(kind):
        add(course, subject=subject)
    assert photos_of(course) == []


def test_the_same_photo_twice_is_told_until_it_is_withdrawn(course: Course) -> None:
    photo = add(course)
    with pytest.raises(ConflictError, match="already, added by Pilar"):
        add(course)
    add(course, subject="heads:H-F005")  # two heads may share a photo
    withdraw_photo(course, photo.id, "too soon", who="Pilar", now=NOON)
    assert add(course, minutes=1).withdrawn is None
    assert len(photos_of(course, HEAD)) == 2


def test_a_withdrawn_photo_stays_with_who_when_and_why(course: Course) -> None:
    photo = add(course)
    later = NOON + timedelta(hours=1)
    withdraw_photo(course, photo.id, "  shows a person ", who="Tomas", now=later)
    gone = photo_of(course, photo.id)
    assert (gone.withdrawn_by, gone.withdrawn, gone.withdrawn_why) == (
        "Tomas", later, "shows a person",
    )  # fmt: skip
    assert (gone.text, gone.author, gone.time) == (photo.text, photo.author, photo.time)
    assert photo_content(course, gone, "whole")
    with pytest.raises(ConflictError, match="Tomas has withdrawn this photo already"):
        withdraw_photo(course, photo.id, "again", who="Ines", now=later)


@pytest.mark.parametrize("why", ["", "   ", "x" * 201])
def test_withdrawing_wants_a_line_of_words(course: Course, why: str) -> None:
    photo = add(course)
    with pytest.raises(UserError, match="Say why"):
        withdraw_photo(course, photo.id, why, who="Tomas", now=NOON)
    assert photo_of(course, photo.id) == photo


def test_what_is_not_there_is_told(course: Course) -> None:
    with pytest.raises(NotFoundError, match="no photo 'x'"):
        photo_of(course, "x")
    with pytest.raises(NotFoundError):
        withdraw_photo(course, "x", "why", who="Tomas", now=NOON)


def test_files_are_written_by_id_and_never_over_another(course: Course, tmp_path: Path) -> None:
    photo = add(course)
    save_photos(course, [photo], tmp_path / "out")
    written = (tmp_path / "out" / f"{photo.id}.jpg").read_bytes()
    assert written == photo_content(course, photo, "whole")
    with pytest.raises(UserError, match="cannot be written"):
        save_photos(course, [photo], tmp_path / "out")
