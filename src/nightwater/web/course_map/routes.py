"""The record's shapes for the map element."""

from __future__ import annotations

import hashlib
import json

from fastapi import APIRouter
from starlette.responses import Response

from nightwater.web.course_map.shapes import map_document
from nightwater.web.doorway import CurrentVisit, Visit

router = APIRouter(prefix="/map")


def _drawn(visit: Visit) -> tuple[str, str]:
    text = json.dumps(map_document(visit.course.ground), separators=(",", ":"))
    return text, f'"{hashlib.sha256(text.encode()).hexdigest()[:24]}"'


@router.get("/shapes.json")
def shapes(visit: CurrentVisit) -> Response:
    """Areas, holes, pipes and heads; asked anew each time, sent only when changed."""
    text, tag = visit.server.courses.remembered("shapes", lambda: _drawn(visit))
    headers = {"etag": tag, "cache-control": "private, no-cache"}
    if visit.request.headers.get("if-none-match", "").removeprefix("W/") == tag:
        return Response(status_code=304, headers=headers)
    return Response(text, media_type="application/json", headers=headers)
