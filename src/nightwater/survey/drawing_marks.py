"""What our own export writes on the things of a drawing, so that they come back as they were."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.lldxf.const import DXFError

from nightwater.survey.drawing_file import clean_text

APPLICATION: Final = "NIGHTWATER"
_TEXT: Final = 1000  # group code of a text of extended data: up to 255 bytes
_CHUNK: Final = 250


@dataclass(frozen=True)
class Mark:
    """Extended data of one entity under our application id.

    Attributes:
        table: the table whose row it draws.
        id: the row.
        part: number of the part of a shape of several.
        ring: 0 for an outline, 1 … for the holes in it; 0 for points and lines.
        values: the row's values by column; only on the first entity of a row.
    """

    table: str
    id: str
    part: int = 0
    ring: int = 0
    values: Mapping[str, Any] | None = None


def write_mark(entity: DXFEntity, mark: Mark) -> None:
    """Put a mark on an entity; the document must know our application id."""
    content = json.dumps([mark.table, mark.id, mark.part, mark.ring, mark.values])
    chunks = [content[start : start + _CHUNK] for start in range(0, len(content), _CHUNK)]
    entity.set_xdata(APPLICATION, [(_TEXT, chunk) for chunk in chunks])


def _plain(values: Any) -> bool:
    return values is None or (
        isinstance(values, dict)
        and all(isinstance(value, (str, int, float, type(None))) for value in values.values())
    )


def mark_of(entity: DXFEntity) -> Mark | None:
    """The mark on an entity; None where there is none, or where it was mangled."""
    try:
        tags = entity.get_xdata(APPLICATION) if entity.has_xdata(APPLICATION) else ()
        content = json.loads("".join(str(value) for code, value in tags if code == _TEXT))
        table, identity, part, ring, values = content
    except (DXFError, TypeError, ValueError, RecursionError):
        return None
    sound = (
        isinstance(table, str)
        and isinstance(identity, str)
        and type(part) is int
        and type(ring) is int
        and _plain(values)
    )
    return Mark(table, identity, part, ring, values) if sound else None


def as_attribute(value: Any) -> str:
    """A value as the text of a block's attribute: one line, without what a drawing cannot hold."""
    if value is None:
        return ""
    text = repr(value) if isinstance(value, float) else str(value)
    return "".join(letter if letter.isprintable() else " " for letter in text).strip()


def marked_values(mark: Mark, attributes: Mapping[str, str]) -> dict[str, Any]:
    """A row's values: as marked, except where somebody changed the block's attribute since."""
    values = {"id": mark.id, **(mark.values or {})}
    told = {tag.casefold(): text for tag, text in attributes.items()}
    for name, value in values.items():
        text = told.get(name.casefold())
        if text is not None and clean_text(text) != clean_text(as_attribute(value)):
            values[name] = text
    return values
