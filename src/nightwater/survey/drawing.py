"""Read a CAD drawing (DXF) as rows: one for each thing that fits the table that is wanted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from nightwater.findings import Finding, UserError, error, note
from nightwater.ground.columns import Shape, Table
from nightwater.survey.drawing_file import (
    OpenDrawing,
    Placement,
    drawing_unit,
    open_drawing,
    placement,
    unit_in_metres,
)
from nightwater.survey.drawing_labels import doubtful_labels, labels_near
from nightwater.survey.drawing_shapes import LINE_KINDS, OUTLINE_KINDS, POINT_KINDS
from nightwater.survey.drawing_things import (
    Thing,
    Things,
    fitting_things,
    marked_things,
    texts_of,
)
from nightwater.survey.drawing_walk import TEXTS, Piece, Walk

DRAWING_ENDINGS: Final = (".dxf",)
OWN_COLUMNS: Final = ("layer", "block", "text", "colour", "handle", "radius_m")
LABEL_COLUMN: Final = "label_text"
_WORDS: Final = {Shape.POINT: "points", Shape.LINE: "lines", Shape.POLYGON: "outlines"}
_LISTED: Final = 20
_READ: Final = {*POINT_KINDS, *LINE_KINDS, *OUTLINE_KINDS, *TEXTS}


@dataclass(frozen=True)
class DrawingWish:
    """What is wanted of a drawing.

    Attributes:
        table: the declaration to fill; None takes what stands as a point.
        layer: a layer, or a pattern of layers (IRR-HEADS*).
        unit: what it is drawn in, where it does not say or says it wrongly.
        crs: coordinate system, where it does not say.
        opened: the drawing itself, where it was opened already; else it is read.
    """

    table: Table | None = None
    layer: str | None = None
    unit: str | None = None
    crs: str | None = None
    opened: OpenDrawing | None = None

    @property
    def shape(self) -> Shape:
        """The shape that is wanted; a table without one takes what stands as a point."""
        return (self.table.shape if self.table else None) or Shape.POINT


@dataclass(frozen=True)
class DrawingRows:
    """What a drawing holds for one table.

    Attributes:
        cells: layer, block, handle …, then a column for each block attribute.
        places: where each row stands.
        shapes: a geometry for each row, in the unit of its coordinate system.
        crs: the system that the drawing declares, or None.
        findings: doubts about the drawing.
    """

    cells: pd.DataFrame
    places: tuple[str, ...]
    shapes: tuple[Any, ...]
    crs: str | None
    findings: tuple[Finding, ...]


def drawing_layers(path: Path) -> list[tuple[str, str, int]]:
    """Layer, entity kind and number of everything in model space, for showing to a person.

    Blocks that only wrap other blocks are opened, grids laid out.

    Raises:
        UserError: a file that cannot be read at all, or a bomb.
    """
    return layers_in(open_drawing(path))


def layers_in(drawing: OpenDrawing) -> list[tuple[str, str, int]]:
    """What `drawing_layers` says, of a drawing that was opened already."""
    walk = Walk(drawing, open_blocks=False)
    counts = Counter((piece.layer, piece.kind) for piece in walk)
    return [(layer, kind, number) for (layer, kind), number in sorted(counts.items())]


def _listed(counts: Mapping[tuple[str, str], int]) -> str:
    """'GREENS (12 LWPOLYLINE, 3 HATCH), TREES (40 INSERT)', at most twenty layers."""
    layers: dict[str, list[str]] = {}
    for (layer, kind), number in sorted(counts.items()):
        if number > 0:
            layers.setdefault(layer, []).append(f"{number} {kind}")
    words = [f"{layer} ({', '.join(kinds)})" for layer, kinds in layers.items()]
    more = f", and {len(words) - _LISTED} more" if len(words) > _LISTED else ""
    return ", ".join(words[:_LISTED]) + more


def _matching(layers: Iterable[str], wished: str) -> set[str]:
    every, wanted = set(layers), wished.casefold()
    exact = {layer for layer in every if layer.casefold() == wanted}
    return exact or {layer for layer in every if fnmatchcase(layer.casefold(), wanted)}


def _wished_layers(name: str, wish: DrawingWish, pieces: Sequence[Piece]) -> set[str]:
    every = Counter((piece.layer, piece.kind) for piece in pieces)
    chosen = _matching({layer for layer, _ in every}, str(wish.layer))
    if not chosen:
        raise UserError(f"{name} has no layer '{wish.layer}'. It holds {_listed(every)}.")
    return chosen


def _fitting_layers(found: Things, marked: Things) -> set[str]:
    own = {thing.layer for thing in marked.good} | {layer for layer, _, _ in marked.bad}
    return own or {thing.layer for thing in found.good}


def _chosen_layers(
    name: str, wish: DrawingWish, pieces: Sequence[Piece], found: Things, marked: Things
) -> set[str]:
    words = _WORDS[wish.shape]
    if wish.layer is not None:
        return _wished_layers(name, wish, pieces)
    layers = _fitting_layers(found, marked)
    if not layers and not found.bad:
        every = Counter((piece.layer, piece.kind) for piece in pieces)
        raise UserError(f"{name} holds no {words}. Its layers: {_listed(every)}.")
    if len(layers) > 1 and not marked.good:
        counts = Counter((thing.layer, thing.kind) for thing in found.good)
        raise UserError(
            f"{name} holds {words} on {len(layers)} layers. Name one with --layer, or several by a "
            f"pattern (--layer 'IRR-*'): {_listed(counts)}."
        )
    return layers or {layer for layer, _, _ in found.bad}


def _bad_row(name: str, place: str, reason: str) -> Finding:
    return error(
        "bad-row",
        f"file:{name}",
        f"{name}, {place}: not read, because {reason}.",
        "Put it right in the drawing and survey it again; the other rows are not held up.",
    )


def _left_aside(name: str, found: Things, layers: set[str], everywhere: bool) -> list[Finding]:
    """A note on what is no row: on these layers, and what is never read on any other too."""
    counts = Counter[str]()
    for (layer, kind), number in found.other.items():
        if kind not in TEXTS and (layer in layers or (everywhere and kind not in _READ)):
            counts[kind] += number
    if not counts.total():
        return []
    listed = ", ".join(f"{number} {kind}" for kind, number in sorted(counts.items()))
    found_note = note(
        "entities-left-aside",
        f"file:{name}",
        f"{name}: left aside, because nothing of this table is drawn so: {listed}.",
        "Survey them as another table, or explode what should be drawn as plain lines.",
    )
    return [found_note]


def _outline_notes(name: str, found: Things, layers: set[str]) -> list[Finding]:
    closed = sum(found.closed[layer] for layer in layers)
    loose = sum(found.loose[layer] for layer in layers)
    twice = sum(found.twice[layer] for layer in layers)
    notes = []
    if closed or loose:
        notes.append(
            note(
                "outlines-closed",
                f"file:{name}",
                f"{name}: {closed} outlines were closed from separate lines and arcs whose ends "
                f"meet within 0.05 m; {loose} lines close none and were left aside.",
                "Look at the outlines on the map.",
            )
        )
    if twice:
        notes.append(
            note(
                "outline-twice",
                f"file:{name}",
                f"{name}: {twice} hatches cover what an outline covers already; they were left "
                "aside.",
                "Nothing, if the hatch only fills the outline.",
            )
        )
    return notes


def _broken_things(name: str, broken: Mapping[str, int]) -> list[Finding]:
    return [
        _bad_row(name, f"{number} {kind}", "what they hold is broken")
        for kind, number in sorted(broken.items())
    ]


def _labelled(
    name: str, things: list[Thing], pieces: Sequence[Piece], unit_m: float, shape: Shape
) -> tuple[list[Thing], tuple[Finding, ...]]:
    if shape is not Shape.POINT or any(thing.kind in TEXTS for thing in things):
        return things, ()
    texts = [(spot, said) for _, spot, said in texts_of(pieces, unit_m)]
    labels = labels_near([thing.shape for thing in things], texts)
    labelled = [
        replace(thing, told={**thing.told, LABEL_COLUMN: labels.texts.get(number)})
        for number, thing in enumerate(things)
    ]
    return labelled, doubtful_labels(name, labels.doubtful)


def _columns(things: Sequence[Thing]) -> dict[str, str]:
    """Every attribute's column by its tag in lower case; ours stand first."""
    taken = {name.casefold() for name in (*OWN_COLUMNS[:5], LABEL_COLUMN)}
    columns: dict[str, str] = {}
    for thing in things:
        for tag in thing.attributes if thing.values is None else thing.values:
            key = tag.casefold()
            columns.setdefault(key, f"attribute_{tag}" if key in taken else tag)
    return columns


def _cells(thing: Thing, columns: Mapping[str, str]) -> dict[str, Any]:
    said = thing.attributes if thing.values is None else thing.values
    told = {key: value for key, value in thing.told.items() if value is not None}
    return told | {columns[tag.casefold()]: value for tag, value in said.items()}


def _frame(things: Sequence[Thing]) -> pd.DataFrame:
    columns = _columns(things)
    rows = [_cells(thing, columns) for thing in things]
    names = dict.fromkeys(("layer", *(name for row in rows for name in row)))
    data = {name: [row.get(name) for row in rows] for name in names}
    return pd.DataFrame(data, dtype=object)


def _placed(shape: BaseGeometry, where: Placement) -> BaseGeometry:
    if where.crs is None and (where.matrix == np.eye(2, 3)).all():
        return shape

    def moved(points: Any) -> Any:
        return np.column_stack((where.applied(points[:, :2]), points[:, 2:]))

    placed: BaseGeometry = shapely.transform(shape, moved, include_z=bool(shapely.has_z(shape)))
    return placed


def _sorted_out(
    drawing: OpenDrawing, wish: DrawingWish, pieces: Sequence[Piece], unit_m: float
) -> tuple[list[Thing], list[Finding], set[str]]:
    table = wish.table
    free = [piece for piece in pieces if piece.mark is None]
    own = [(p.mark, p) for p in pieces if p.mark and table and p.mark.table == table.name]
    found = fitting_things(free, wish.shape, unit_m)
    marked = marked_things(own, table, unit_m) if table else Things()
    layers = _chosen_layers(drawing.name, wish, pieces, found, marked)
    things = [thing for thing in (*marked.good, *found.good) if thing.layer in layers]
    bad = [(p, reason) for layer, p, reason in (*marked.bad, *found.bad) if layer in layers]
    findings = [_bad_row(drawing.name, place, reason) for place, reason in bad]
    findings += _left_aside(drawing.name, found, layers, wish.layer is None)
    findings += _outline_notes(drawing.name, found, layers)
    if not things and not bad:
        every = Counter((p.layer, p.kind) for p in pieces if p.layer in layers)
        raise UserError(
            f"{drawing.name} holds no {_WORDS[wish.shape]} there. Chosen: {_listed(every)}."
        )
    return things, findings, layers


def read_drawing(path: Path, wish: DrawingWish) -> DrawingRows:
    """Read a drawing's model space as rows for a table.

    One row for each thing that fits: a block, point or circle where points are wanted; a line
    or curve where lines are; a closed line, hatch or outline made of loose lines where ground is.

    Args:
        path: a DXF file, text or binary, of any version.
        wish: table, layer, unit and coordinate system.

    Raises:
        UserError: not readable, a bomb, no unit, nothing that fits, or several layers that do.
    """
    drawing = wish.opened or open_drawing(path)
    walk = Walk(drawing, open_blocks=wish.shape is not Shape.POINT)
    pieces = list(walk)
    if not pieces and not walk.broken:
        raise UserError(f"{drawing.name} holds nothing: its model space is empty.")
    unit, unit_doubts = drawing_unit(drawing, wish.unit)
    unit_m = unit_in_metres(unit)
    things, findings, _layers = _sorted_out(drawing, wish, pieces, unit_m)
    things, label_doubts = _labelled(drawing.name, things, pieces, unit_m, wish.shape)
    where, place_doubts = placement(drawing, unit, wish.crs)
    findings += _broken_things(drawing.name, walk.broken)
    return DrawingRows(
        _frame(things),
        tuple(thing.place for thing in things),
        tuple(_placed(thing.shape, where) for thing in things),
        where.crs,
        (*drawing.findings, *unit_doubts, *findings, *label_doubts, *place_doubts),
    )
