"""Photos of what is in the ground: add one, show them, withdraw one with the reason."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final, Literal

import pandas as pd

from nightwater.desk.course import Course
from nightwater.findings import ConflictError, NotFoundError, UserError
from nightwater.ground.tables import GROUND_TABLES
from nightwater.survey.photos import read_photo

MOST_WORDS: Final = 200  # characters; a line
PhotoSize = Literal["whole", "small"]


@dataclass(frozen=True)
class PhotoWish:
    """A photo that somebody wants to add.

    Attributes:
        subject: what it shows, as `table:id`.
        text: what is to be seen, a line of words.
        content: the file, JPEG or PNG.
        name: of the file, for messages.
    """

    subject: str
    text: str
    content: bytes
    name: str


@dataclass(frozen=True)
class Photo:
    """A photo of the course.

    Attributes:
        id: of its row.
        subject: what it shows, as `table:id`.
        text: what is to be seen.
        author, time: who added it, when.
        digest: name of its pixels.
        size_px: width and height.
        withdrawn_by, withdrawn, withdrawn_why: who, when, why; None while it stands.
    """

    id: str
    subject: str
    text: str
    author: str
    time: datetime
    digest: str
    size_px: tuple[int, int]
    withdrawn_by: str | None
    withdrawn: datetime | None
    withdrawn_why: str | None

    def as_row(self) -> dict[str, Any]:
        """The photo for a table of text or JSON."""
        return {
            "id": self.id,
            "subject": self.subject,
            "text": self.text,
            "author": self.author,
            "time": self.time.isoformat(),
            "width_px": self.size_px[0],
            "height_px": self.size_px[1],
            "withdrawn_by": self.withdrawn_by,
            "withdrawn": self.withdrawn.isoformat() if self.withdrawn else None,
            "withdrawn_why": self.withdrawn_why,
        }


def _instant(value: Any) -> datetime | None:
    return None if value is None or pd.isna(value) else pd.Timestamp(value).to_pydatetime()


def _text(value: Any) -> str | None:
    return None if value is None or pd.isna(value) else str(value)


def _photo(identity: str, row: pd.Series[Any]) -> Photo:
    time = _instant(row["time"])
    assert time is not None  # the table refuses a row without it
    return Photo(
        id=identity,
        subject=str(row["subject"]),
        text=str(row["text"]),
        author=str(row["author"]),
        time=time,
        digest=str(row["digest"]),
        size_px=(int(row["width_px"]), int(row["height_px"])),
        withdrawn_by=_text(row["withdrawn_by"]),
        withdrawn=_instant(row["withdrawn"]),
        withdrawn_why=_text(row["withdrawn_why"]),
    )


def photos_of(course: Course, subject: str | None = None) -> list[Photo]:
    """Photos of one subject, or of all, newest first; withdrawn ones among them."""
    equals = {} if subject is None else {"subject": subject}
    rows = course.file.running("photos", **equals)
    found = [_photo(str(identity), row) for identity, row in rows.iterrows()]
    return sorted(found, key=lambda photo: photo.time)[::-1]


def photo_of(course: Course, identity: str) -> Photo:
    """One photo.

    Raises:
        NotFoundError: no such photo.
    """
    for photo in photos_of(course):
        if photo.id == identity:
            return photo
    raise NotFoundError(f"There is no photo '{identity}' in this course.")


def photo_content(course: Course, photo: Photo, size: PhotoSize) -> bytes:
    """The JPEG file of a photo.

    Raises:
        NotFoundError: the file holds none.
    """
    content = course.file.photo_content(photo.digest, size)
    if content is None:
        raise NotFoundError(f"The pixels of photo '{photo.id}' are not in this file.")
    return content


def save_photos(course: Course, photos: Iterable[Photo], folder: Path) -> None:
    """Write each photo's JPEG file into a folder, named by its id; what is there stays.

    Raises:
        UserError: the folder cannot be written, or holds a file of that name.
    """
    for photo in photos:
        content = photo_content(course, photo, "whole")
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with (folder / f"{photo.id}.jpg").open("xb") as target:
                target.write(content)
        except OSError as trouble:
            raise UserError(
                f"{folder / photo.id}.jpg cannot be written: {trouble.strerror}."
            ) from trouble


def _check_subject(course: Course, subject: str) -> None:
    table, _, name = subject.partition(":")
    if table not in GROUND_TABLES:
        raise UserError(f"'{subject}' is no row of the record. Write it like heads:H7-001.")
    if name not in course.ground.table(table).index:
        raise NotFoundError(f"The record has no '{subject}'.")


def _line(words: str, what: str) -> str:
    """A line of words, without more space than it needs.

    Raises:
        UserError: empty, or too long.
    """
    line = " ".join(words.split())
    if not line or len(line) > MOST_WORDS:
        raise UserError(f"Say {what}, in 1 to {MOST_WORDS} characters.")
    return line


def add_photo(course: Course, wish: PhotoWish, *, who: str, now: datetime) -> Photo:
    """Keep a photo of a row of the record, drawn anew from its pixels.

    Raises:
        NotFoundError: no such row.
        UserError: no photo that is taken (see `read_photo`), or no words.
        ConflictError: the same photo is on the sheet already.
    """
    _check_subject(course, wish.subject)
    text = _line(wish.text, "what is to be seen on the photo")
    kept = read_photo(wish.content, wish.name)
    digest = hashlib.sha256(kept.contents["whole"]).hexdigest()
    _check_new(course, wish.subject, digest)
    width, height = kept.size_px
    photo = Photo(
        uuid.uuid4().hex, wish.subject, text, who, now, digest, (width, height), None, None, None
    )
    values = {
        "subject": photo.subject,
        "text": text,
        "author": who,
        "time": now,
        "digest": digest,
        "width_px": width,
        "height_px": height,
    }
    row = pd.DataFrame([values], index=pd.Index([photo.id], name="id"))
    course.file.keep_photo(row, kept.contents)
    return photo


def _check_new(course: Course, subject: str, digest: str) -> None:
    """A form sent twice is not a second photo."""
    for photo in photos_of(course, subject):
        if photo.digest == digest and photo.withdrawn is None:
            raise ConflictError(
                f"This photo is on the sheet of {subject} already, added by {photo.author}; "
                "nothing was added."
            )


def withdraw_photo(course: Course, identity: str, why: str, *, who: str, now: datetime) -> Photo:
    """Take a photo off its sheet; the file keeps it, with who did so, when and why.

    Returns:
        The photo as it was.

    Raises:
        NotFoundError: no such photo.
        UserError: no reason.
        ConflictError: it is withdrawn already.
    """
    photo = photo_of(course, identity)
    reason = _line(why, "why the photo is withdrawn")
    if photo.withdrawn is not None:
        raise ConflictError(
            f"{photo.withdrawn_by} has withdrawn this photo already: {photo.withdrawn_why}"
        )
    values = {"withdrawn_by": who, "withdrawn": now, "withdrawn_why": reason}
    course.file.append("photos", pd.DataFrame([values], index=pd.Index([identity], name="id")))
    return photo
