"""The things in a drawing one by one: blocks opened or whole, grids laid out, bombs refused."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from ezdxf.document import Drawing
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.entities.insert import Insert
from ezdxf.entities.polyline import Polyline

from nightwater.findings import UserError
from nightwater.survey.drawing_file import FOREIGN_FAULTS, OpenDrawing, clean_text
from nightwater.survey.drawing_marks import Mark, mark_of

MAX_ENTITIES: Final = 100_000
MAX_GRID: Final = 5_000  # of one block laid out in rows and columns; no course has more heads
MAX_DEPTH: Final = 8
TEXTS: Final = ("TEXT", "MTEXT")
_LAYER_OF_BLOCK: Final = "0"  # what lies on it takes the layer of the inserted block
_XREF: Final = "XREF"
_NOT_NAMED: Final = re.compile(r"\s+")


@dataclass(frozen=True)
class Piece:
    """One thing of a drawing.

    Attributes:
        kind: its entity kind (INSERT, LINE …), XREF for a drawing that is only referred to.
        layer: the layer it lies on; inside a block, layer 0 is the layer of the block.
        handle: its handle; in a block or grid with what tells it apart.
        entity: as the library holds it, in world coordinates.
        block: name of the inserted block, or "".
        attributes: texts of the block by tag.
        mark: what our own export wrote on it.
    """

    kind: str
    layer: str
    handle: str
    entity: DXFGraphic
    block: str = ""
    attributes: Mapping[str, str] = field(default_factory=dict)
    mark: Mark | None = None

    @property
    def place(self) -> str:
        """Where it stands, for messages."""
        return f"{self.kind} {self.handle} on layer {self.layer}"


def _inserts(entities: Any) -> list[Insert]:
    return [entity for entity in entities if isinstance(entity, Insert)]


class _Blocks:
    """What the blocks of a drawing hold, counted before any is opened."""

    def __init__(self, drawing: OpenDrawing) -> None:
        self._name = drawing.name
        self._document: Drawing = drawing.document
        self._sizes: dict[str, int] = {}
        self._uses = Counter[str]()
        for layout in drawing.document.blocks:  # model space is one of them
            for insert in _inserts(layout):
                self._uses[_block_key(insert)] += _grid_size(insert)

    def size(self, entities: Any, above: tuple[str, ...] = ()) -> int:
        """How many things there are with every block opened.

        Raises:
            UserError: a block that holds itself, or blocks nested too deep.
        """
        if len(above) > MAX_DEPTH:
            raise UserError(
                f"{self._name} nests its blocks more than {MAX_DEPTH} deep, at block "
                f"'{clean_text(above[-1])}'. Explode the outer ones in the drawing program."
            )
        for insert in _inserts(entities):
            self._check_grid(insert)
        return sum(
            _grid_size(entity) * self._block_size(entity, above) if _is_insert(entity) else 1
            for entity in entities
        )

    def _check_grid(self, insert: Insert) -> None:
        if _grid_size(insert) > MAX_GRID:
            raise UserError(
                f"{self._name} lays out block '{clean_text(_block_key(insert))}' "
                f"{_grid_size(insert):,} times in one grid; up to {MAX_GRID:,} are read. "
                "Mend its rows and columns."
            )

    def _block_size(self, insert: Insert, above: tuple[str, ...]) -> int:
        name = _block_key(insert)
        if name in above:
            raise UserError(
                f"{self._name}: block '{clean_text(insert.dxf.name)}' holds itself. Mend it in the "
                "drawing program."
            )
        block = insert.block() if name else None
        if block is None:
            return 1
        if name not in self._sizes:
            self._sizes[name] = max(1, self.size(block, (*above, name)))
        return self._sizes[name]

    def opens(self, insert: Insert) -> bool:
        """Whether a block is only a wrapping of the blocks in it, rather than a thing itself.

        A block with attributes is a thing, and what it holds is its symbol. Any other that
        holds blocks is opened if one of them has attributes, if it holds nothing but blocks,
        or if it is inserted only once.
        """
        block = insert.block() if _block_key(insert) else None
        if block is None or insert.attribs:
            return False
        inner = _inserts(block)
        return bool(inner) and (
            any(each.attribs for each in inner)
            or len(inner) == len(block)
            or self._uses[_block_key(insert)] == 1
        )


def _block_key(insert: Insert) -> str:
    return str(insert.dxf.get("name", "")).casefold()


def _is_insert(entity: DXFEntity) -> bool:
    return isinstance(entity, Insert)


def _grid_size(insert: Insert) -> int:
    return max(1, int(insert.mcount))


def _tag(text: str) -> str:
    return _NOT_NAMED.sub("_", clean_text(text))


def _attributes(insert: Insert) -> dict[str, str]:
    found = {}
    block = insert.block()
    if block is not None and insert.attribs:
        found = {_tag(each.dxf.tag): each.dxf.text for each in block.get_const_attdefs()}
    for each in insert.attribs:
        found[_tag(each.dxf.tag)] = (
            each.plain_mtext() if each.has_embedded_mtext_entity else each.dxf.text
        )
    return {tag: clean_text(text) for tag, text in found.items() if tag}


def _layer(entity: DXFGraphic, outer: str | None) -> str:
    known = entity.dxf.is_supported("layer")
    layer = entity.dxf.get("layer", _LAYER_OF_BLOCK) if known else _LAYER_OF_BLOCK
    own = layer if outer is None or layer != _LAYER_OF_BLOCK else outer
    return clean_text(own)


def _kind(entity: DXFGraphic) -> str:
    mesh = isinstance(entity, Polyline) and not (entity.is_2d_polyline or entity.is_3d_polyline)
    return "MESH" if mesh else clean_text(entity.dxftype())


def _piece(entity: DXFGraphic, layer: str, handle: str) -> Piece:
    kind = _kind(entity)
    if not isinstance(entity, Insert):
        return Piece(kind, layer, handle, entity, mark=mark_of(entity))
    xref = entity.block() is not None and entity.is_xref()
    block = clean_text(entity.dxf.get("name", ""))
    kind = _XREF if xref else kind
    return Piece(kind, layer, handle, entity, block, _attributes(entity), mark_of(entity))


def _without_id(piece: Piece) -> Piece:
    """One of a grid: an id that all of them share is nobody's."""
    kept = {tag: text for tag, text in piece.attributes.items() if tag.casefold() != "id"}
    return replace(piece, attributes=kept, mark=None)


class Walk:
    """Every thing in model space, for one purpose.

    Args:
        drawing: the open file.
        open_blocks: whether what a block draws is wanted (lines, outlines), rather than where
            it stands (points). A block with attributes is never opened.

    Attributes:
        broken: things that could not be taken apart, by kind; complete after the walk.

    Raises:
        UserError: blocks that hold themselves, are nested too deep, or more than 100,000
            things with every block opened and every grid laid out.
    """

    def __init__(self, drawing: OpenDrawing, *, open_blocks: bool) -> None:
        self._blocks = _Blocks(drawing)
        self._open_blocks = open_blocks
        self._space = list(drawing.document.modelspace())
        number = self._blocks.size(self._space)
        if number > MAX_ENTITIES:
            raise UserError(
                f"{drawing.name} comes to {number:,} things with its blocks and grids laid out; "
                f"up to {MAX_ENTITIES:,} are read. Save only the layers that are wanted."
            )
        self.broken = Counter[str]()

    def __iter__(self) -> Iterator[Piece]:
        for entity in self._space:
            try:
                yield from self._walked(entity, None, str(entity.dxf.get("handle", "?")))
            except FOREIGN_FAULTS:
                self.broken[clean_text(entity.dxftype())] += 1

    def _walked(self, entity: DXFGraphic, outer: str | None, handle: str) -> Iterator[Piece]:
        layer = _layer(entity, outer)
        if not isinstance(entity, Insert):
            yield _piece(entity, layer, handle)
        elif entity.mcount > 1:
            for number, single in enumerate(entity.multi_insert(), 1):
                for piece in self._single(single, layer, f"{handle}/{number}"):
                    yield _without_id(piece)
        else:
            yield from self._single(entity, layer, handle)

    def _single(self, insert: Insert, layer: str, handle: str) -> Iterator[Piece]:
        piece = _piece(insert, layer, handle)
        opened = not insert.attribs if self._open_blocks else self._blocks.opens(insert)
        if piece.kind == _XREF or not opened or insert.block() is None:
            yield piece
            return
        for number, each in enumerate(insert.virtual_entities(), 1):
            yield from self._walked(each, layer, f"{handle}.{number}")
