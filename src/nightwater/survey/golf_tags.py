"""The open tagging of golf courses (golf=green, fairway, hole …) in our words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from difflib import get_close_matches
from typing import Any, Final

import pandas as pd
import shapely

from nightwater.findings import Finding, UserError, note
from nightwater.ground.columns import Table
from nightwater.survey.cells import is_missing
from nightwater.survey.hard_ground import hard_ground
from nightwater.survey.source_files import SourceRows

AREA_TAGS: Final = {
    "green": "green",
    "tee": "tee",
    "fairway": "fairway",
    "rough": "rough",
    "bunker": "bunker",
    "driving_range": "practice",
    "water_hazard": "water",
    "lateral_water_hazard": "water",
}
_TAG: Final = "golf"
_MOSTLY: Final = 0.5
_EDGE: Final = 0.01  # share of a shape that drawing error along an outline may cut off


def is_tagged(rows: SourceRows) -> bool:
    """Whether a file carries the open golf tagging."""
    return _TAG in rows.cells.columns and "kind" not in rows.cells.columns


def card_number(cell: Any) -> int | None:
    """A hole's number where a ref or name carries exactly one, else None."""
    numbers = re.findall(r"\d+", str(cell)) if not is_missing(cell) else []
    return int(numbers[0]) if len(numbers) == 1 and 1 <= int(numbers[0]) <= 54 else None


def _kept(rows: SourceRows, keep: Sequence[bool]) -> SourceRows:
    chosen = [position for position, wanted in enumerate(keep) if wanted]
    return replace(
        rows,
        cells=rows.cells.iloc[chosen].reset_index(drop=True),
        places=tuple(rows.places[position] for position in chosen),
        shapes=tuple(rows.shapes[position] for position in chosen) if rows.shapes else None,
    )


def _outline(rows: SourceRows, wanted: str) -> int:
    named = rows.cells.isin([wanted]).any(axis=1).to_numpy()
    polygons = [
        position
        for position, shape in enumerate(rows.shapes or ())
        if shape is not None and shape.geom_type.endswith("Polygon")
    ]
    found = [position for position in polygons if named[position]]
    if len(found) == 1:
        return found[0]
    if found:
        raise UserError(
            f"The file has {len(found)} outlines named '{wanted}'; one is wanted. Use its id."
        )
    names = rows.cells.get("name", pd.Series(dtype=object)).dropna().astype(str).unique()
    near = get_close_matches(wanted, list(names), 3, 0.5)
    hint = f" Names like it: {', '.join(near)}." if near else " Use the outline's name or id."
    raise UserError(f"The file has no outline named '{wanted}'.{hint}")


def _share_inside(shape: Any, outline: Any) -> float:
    """How much of a shape lies in the outline: of its area, its length, or whether at all."""
    if shape is None or shapely.is_empty(shape):
        return 0.0
    sound = shape if shapely.is_valid(shape) else shapely.make_valid(shape)
    inside = shapely.intersection(sound, outline)
    for measure in (shapely.area, shapely.length):
        whole = float(measure(sound))
        if whole > 0:
            return float(measure(inside)) / whole
    return float(not shapely.is_empty(inside))


def within_outline(rows: SourceRows, wanted: str, name: str) -> SourceRows:
    """Only what lies for the greater part in the outline of that name or id.

    What crosses the outline is counted in one note. The outline itself is not taken.

    Raises:
        UserError: no polygon of that name or id, or more than one.
    """
    place = _outline(rows, wanted)
    shapes = rows.shapes or ()
    outline = shapely.make_valid(shapes[place])
    shares = [0.0 if n == place else _share_inside(s, outline) for n, s in enumerate(shapes)]
    kept = _kept(rows, [share >= _MOSTLY for share in shares])
    crossing = [share for share in shares if _EDGE < share < 1 - _EDGE]
    if not crossing:
        return kept
    left = sum(share < _MOSTLY for share in crossing)
    doubt = note(
        "crosses-outline",
        f"file:{name}",
        f"{name}: {len(crossing)} features cross the outline of '{wanted}'; "
        f"{len(crossing) - left} that lie mostly inside were taken, {left} were left aside.",
        "Look along the edge of the course on the map.",
    )
    return replace(kept, findings=(*kept.findings, doubt))


def _skipped(rows: SourceRows, keep: list[bool], table: str, name: str) -> tuple[Finding, ...]:
    tags = rows.cells[_TAG][[not wanted for wanted in keep]]
    if tags.empty:
        return ()
    counts = tags.fillna("no golf tag").value_counts()
    listed = ", ".join(f"{count} {tag}" for tag, count in counts.items())
    found = note(
        "features-skipped",
        f"file:{name}",
        f"{name}: {len(tags)} features are not {table} and were left aside: {listed}.",
        "Survey them as another table if they matter.",
    )
    return (found,)


def in_our_words(
    rows: SourceRows, table: Table, name: str, path_width_m: float | None = None
) -> SourceRows:
    """A tagged file's rows for one table, with the tags as our columns.

    `areas` takes the tagged turf, bunkers, water, paths and buildings (see
    `hard_ground`); `holes` takes golf=hole with the number from `ref` or `name`.
    Other features are counted in one note.

    Raises:
        UserError: a table that the tagging says nothing about.
    """
    kinds = _kinds(rows.cells)
    if table.name == "areas":
        hard = hard_ground(rows, name, path_width_m)
        rows, kinds = hard.rows, kinds.where(kinds.notna(), hard.kinds)
        keep = kinds.notna().tolist()
    elif table.name == "holes":
        keep = (rows.cells[_TAG] == "hole").tolist()
    else:
        raise UserError(f"{name} carries golf tags, which tell areas and holes, not {table.name}.")
    kept = _kept(rows, keep)
    cells = kept.cells.assign(label=kept.cells.get("name"))
    tagged = cells.assign(kind=kinds[keep].to_numpy())
    cells = tagged if table.name == "areas" else _numbered(cells)
    # The other tags (who mapped it, in which country) are no columns of anybody's record.
    dropped = [c for c in cells.columns if c != "id" and c not in table.by_name]
    findings = (*kept.findings, *_skipped(rows, keep, table.name, name))
    return replace(kept, cells=cells.drop(columns=dropped), findings=findings)


def _kinds(cells: pd.DataFrame) -> pd.Series[Any]:
    """Our kind of each feature, None where the tags name none."""
    kinds = pd.Series([AREA_TAGS.get(tag) for tag in cells[_TAG]], cells.index, dtype=object)
    if "natural" in cells:
        kinds[kinds.isna() & cells[_TAG].isna() & (cells["natural"] == "water")] = "water"
    return kinds


def _numbered(cells: pd.DataFrame) -> pd.DataFrame:
    """Numbers and labels of holes, each from its `ref` where it has one, else its name."""
    nothing = pd.Series([None] * len(cells), cells.index, dtype=object)
    told = cells.get("ref", nothing).where(lambda ref: ref.notna(), cells.get("name", nothing))
    numbers = pd.Series([card_number(cell) for cell in told], cells.index, dtype=object)
    return cells.assign(number=numbers, label=told)
