"""Photos of what is in the ground: their files, adding one, withdrawing one."""

from __future__ import annotations

from typing import Annotated, Final
from urllib.parse import quote

from fastapi import APIRouter, File, Form, UploadFile
from starlette.responses import RedirectResponse, Response

from nightwater.desk.photographing import (
    Photo,
    PhotoSize,
    PhotoWish,
    add_photo,
    photo_content,
    photo_of,
    withdraw_photo,
)
from nightwater.survey.photos import MAX_PHOTO_BYTES
from nightwater.web.access.roles import Deed, check_may
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed

router = APIRouter(prefix="/ground/photos")
_ASK_AGAIN: Final = "private, no-cache"  # it may be withdrawn
_LONGEST_NAME: Final = 80


def _sheet(photo: Photo) -> Response:
    return RedirectResponse(f"/ground/subject?subject={quote(photo.subject)}#photos", 303)


def _chosen(*files: UploadFile | None) -> UploadFile | None:
    """The one that was chosen of a form's two: taken now, or taken before."""
    return next((file for file in files if file is not None and file.size), None)


@router.post("/add", dependencies=[allowed(Deed.PHOTO), OwnForm])
def add(
    visit: CurrentVisit,
    subject: Annotated[str, Form()],
    text: Annotated[str, Form()] = "",
    taken: Annotated[UploadFile | None, File()] = None,
    file: Annotated[UploadFile | None, File()] = None,
) -> Response:
    """Put a photo on the sheet of its subject."""
    chosen = _chosen(taken, file)
    content = b"" if chosen is None else chosen.file.read(MAX_PHOTO_BYTES + 1)
    name = ((chosen.filename if chosen else "") or "The photo")[-_LONGEST_NAME:]
    wish = PhotoWish(subject, text, content, name)
    return _sheet(add_photo(visit.course, wish, who=visit.person.name, now=visit.server.now()))


def _check_may_withdraw(visit: Visit, photo: Photo) -> None:
    """Everybody who may add a photo may withdraw their own."""
    own = photo.author == visit.person.name
    check_may(visit.person.role, Deed.PHOTO if own else Deed.WITHDRAW)


@router.post("/{identity}/withdraw", dependencies=[OwnForm])
def withdraw(visit: CurrentVisit, identity: str, why: Annotated[str, Form()] = "") -> Response:
    """Take a photo off its sheet, with the reason."""
    _check_may_withdraw(visit, photo_of(visit.course, identity))
    who, now = visit.person.name, visit.server.now()
    return _sheet(withdraw_photo(visit.course, identity, why, who=who, now=now))


@router.get("/{identity}/{size}")
def shown(visit: CurrentVisit, identity: str, size: PhotoSize) -> Response:
    """A photo's file; a withdrawn one is for those who may withdraw it."""
    photo = photo_of(visit.course, identity)
    if photo.withdrawn is not None:
        _check_may_withdraw(visit, photo)
    tag = f'"{photo.digest[:32]}-{size}"'
    headers = {"etag": tag, "cache-control": _ASK_AGAIN}
    if visit.request.headers.get("if-none-match", "").removeprefix("W/") == tag:
        return Response(status_code=304, headers=headers)
    content = photo_content(visit.course, photo, size)
    return Response(content, media_type="image/jpeg", headers=headers)
