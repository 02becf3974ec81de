"""Bring a picture in by page: send it, see where it would lie, keep it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi import Query as InAddress
from pydantic import Field
from starlette.responses import RedirectResponse, Response

from nightwater.desk.imaging import ImageProposal, ImageWish, accept_image, propose_image
from nightwater.findings import UserError
from nightwater.ground.placement import corners_px
from nightwater.survey.picture_files import SENT_ENDINGS, WORLD_ENDINGS
from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.images.sent import SentPictures

router = APIRouter(prefix="/ground/add-image")
_GUARDS = [allowed(Deed.PLACE), OwnForm]
Words = Annotated[str, Field(max_length=80)]


def sent_pictures(request: Request) -> SentPictures:
    """The pictures that people look at on this server."""
    kept: SentPictures = request.app.state.sent_pictures
    return kept


def _wish(crs: str, name: str) -> ImageWish:
    return ImageWish(crs=crs.strip() or None, name=name.strip() or None)


def _lies(proposal: ImageProposal) -> dict[str, Any] | None:
    """Size on the ground [m] and of a pixel [m], or None without a place."""
    if proposal.transform is None:
        return None
    width, height = size = proposal.picture.size_px
    corners = proposal.transform.to_map_m(corners_px(size))
    wide, tall = (corners.max(axis=0) - corners.min(axis=0)).tolist()
    pixel = proposal.transform.metres_per_pixel((width / 2, height / 2))
    return {"wide_m": wide, "tall_m": tall, "pixel_m": pixel}


def _looked(visit: Visit, path: Path, wish: ImageWish) -> dict[str, Any]:
    """What the page shows of a picture, or why it cannot be read so."""
    try:
        proposal = propose_image(visit.course, path, wish)
    except UserError as wrong:
        return {"proposal": None, "lies": None, "fault": str(wrong)}
    return {"proposal": proposal, "lies": _lies(proposal), "fault": ""}


@router.get("")
def page(visit: CurrentVisit) -> Response:
    """Choose a picture, and what says where it lies."""
    return visit.page("images/bring.html", endings=SENT_ENDINGS, world_endings=WORLD_ENDINGS)


@router.post("/read", dependencies=_GUARDS)
def read(
    visit: CurrentVisit,
    file: Annotated[UploadFile, File()],
    world: Annotated[UploadFile | None, File()] = None,
    crs: Annotated[Words, Form()] = "",
    name: Annotated[Words, Form()] = "",
) -> Response:
    """Take a picture in; nothing of it is in the course yet."""
    beside = world.file if world is not None and world.size else None
    kept = sent_pictures(visit.request)
    sent = kept.keep(visit.person.id, file.filename or "", file.file, beside)
    said = urlencode({"crs": crs, "name": name})
    return RedirectResponse(f"/ground/add-image/{sent}?{said}", 303)


@router.get("/{sent}")
def look(
    visit: CurrentVisit,
    sent: str,
    crs: Annotated[Words, InAddress()] = "",
    name: Annotated[Words, InAddress()] = "",
) -> Response:
    """Where the picture would lie, by what is said of it."""
    path = sent_pictures(visit.request).path(visit.person.id, sent)
    shown = _looked(visit, path, _wish(crs, name))
    return visit.page("images/look.html", sent=sent, file=path.name, crs=crs, name=name, **shown)


@router.post("/{sent}/accept", dependencies=_GUARDS)
def accept(
    visit: CurrentVisit,
    sent: str,
    crs: Annotated[Words, Form()] = "",
    name: Annotated[Words, Form()] = "",
) -> Response:
    """Keep it as a revision; one without a place goes on to its control points."""
    kept = sent_pictures(visit.request)
    path = kept.path(visit.person.id, sent)
    proposal = propose_image(visit.course, path, _wish(crs, name))
    who, now = visit.person.name, visit.server.now()
    accept_image(visit.course, proposal, who=who, why=f"picture {path.name}", now=now)
    kept.forget(visit.person.id)
    placed = proposal.transform is not None
    return RedirectResponse("/ground#map" if placed else f"/ground/place-image/{proposal.id}", 303)
