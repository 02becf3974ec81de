"""The open tagging of golf courses (golf=green, fairway, hole …) in our words."""

from __future__ import annotations

import re
from typing import Any, Final

import pandas as pd
import shapely
import shapely.prepared

from nightwater.findings import Finding, UserError, note
from nightwater.ground.columns import Table
from nightwater.survey.cells import is_missing
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


def is_tagged(rows: SourceRows) -> bool:
    """Whether a file carries the open golf tagging."""
    return _TAG in rows.cells.columns and "kind" not in rows.cells.columns


def card_number(cell: Any) -> int | None:
    """A hole's number where a ref or name carries exactly one, else None."""
    numbers = re.findall(r"\d+", str(cell)) if not is_missing(cell) else []
    return int(numbers[0]) if len(numbers) == 1 and 1 <= int(numbers[0]) <= 54 else None


def _kept(rows: SourceRows, keep: list[bool]) -> SourceRows:
    chosen = [position for position, wanted in enumerate(keep) if wanted]
    return SourceRows(
        cells=rows.cells.iloc[chosen].reset_index(drop=True),
        places=tuple(rows.places[position] for position in chosen),
        shapes=tuple(rows.shapes[position] for position in chosen) if rows.shapes else None,
        crs=rows.crs,
        decimal_comma=rows.decimal_comma,
        findings=rows.findings,
    )


def within_outline(rows: SourceRows, wanted: str) -> SourceRows:
    """Only what touches the outline of that name or id, without the outline itself.

    Raises:
        UserError: no polygon of that name or id, or more than one.
    """
    named = rows.cells.isin([wanted]).any(axis=1).to_numpy()
    shapes = rows.shapes or ()
    outlines = [
        position
        for position, shape in enumerate(shapes)
        if named[position] and shape is not None and shape.geom_type.endswith("Polygon")
    ]
    if len(outlines) != 1:
        raise UserError(
            f"The file has {len(outlines)} outlines named '{wanted}'; exactly one is wanted. "
            "Use the outline's id."
        )
    outline = shapely.prepared.prep(shapely.make_valid(shapes[outlines[0]]))
    keep = [
        position != outlines[0] and shape is not None and outline.intersects(shape)
        for position, shape in enumerate(shapes)
    ]
    return _kept(rows, keep)


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


def in_our_words(rows: SourceRows, table: Table, name: str) -> SourceRows:
    """A tagged file's rows for one table, with the tags as our columns.

    `areas` takes the tagged turf, bunkers and water; `holes` takes golf=hole with the
    number from `ref` or `name`. Other features are counted in one note.

    Raises:
        UserError: a table that the tagging says nothing about.
    """
    tags = rows.cells[_TAG]
    if table.name == "areas":
        keep = [tag in AREA_TAGS for tag in tags]
        kept = _kept(rows, keep)
        cells = kept.cells.assign(kind=kept.cells[_TAG].map(AREA_TAGS))
        cells = cells.assign(label=cells.get("name"))
    elif table.name == "holes":
        keep = [tag == "hole" for tag in tags]
        kept = _kept(rows, keep)
        cells = _numbered(kept.cells)
    else:
        raise UserError(f"{name} carries golf tags, which tell areas and holes, not {table.name}.")
    dropped = [c for c in cells.columns if c not in ("id", "kind", "label", "number", "par")]
    findings = (*kept.findings, *_skipped(rows, keep, table.name, name))
    return SourceRows(
        cells.drop(columns=dropped), kept.places, kept.shapes, kept.crs, False, findings
    )


def _numbered(cells: pd.DataFrame) -> pd.DataFrame:
    source = next((c for c in ("ref", "name") if c in cells and cells[c].notna().any()), None)
    if source is None:
        return cells.assign(number=None)
    label = cells[source]
    numbers: list[Any] = [card_number(cell) for cell in label]
    return cells.assign(number=numbers, label=label)
