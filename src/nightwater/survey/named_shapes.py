"""Kind and hole of a shape from its name, where nothing else in the file says them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import pandas as pd

from nightwater.findings import Finding, note, warning
from nightwater.ground.columns import Shape, Table
from nightwater.survey.cells import is_missing
from nightwater.survey.golf_tags import AREA_TAGS
from nightwater.survey.source_files import SourceRows

KIND_WORDS: Final = {
    "green": "green",
    "tee": "tee",
    "approach": "approach",
    "approaches": "approach",
    "fairway": "fairway",
    "rough": "rough",
    "bunker": "bunker",
    "water": "water",
    "pond": "water",
    "lake": "water",
    "practice": "practice",
    "native": "native",
    "path": "path",
    "cartpath": "path",
    "building": "building",
}
_PHRASES: Final = {("driving", "range"): "practice"}
LAST_HOLE: Final = 54
_SHOWN: Final = 6
_FAMILY: Final = {Shape.POINT: "Point", Shape.LINE: "LineString", Shape.POLYGON: "Polygon"}


@dataclass(frozen=True)
class NameSays:
    """What a name says: a kind and a hole, each None where it does not or says two."""

    kind: str | None
    hole: int | None
    kinds: tuple[str, ...]
    numbers: tuple[int, ...]


def _words(name: str) -> list[str]:
    return re.findall(r"[^\W\d_]+|\d+", name.lower())


def _kinds(words: Sequence[str]) -> tuple[str, ...]:
    singular = [word if word in KIND_WORDS else word.removesuffix("s") for word in words]
    told = [KIND_WORDS[word] for word in singular if word in KIND_WORDS]
    told += [_PHRASES[pair] for pair in zip(words, singular[1:], strict=False) if pair in _PHRASES]
    return tuple(dict.fromkeys(told))


def name_says(name: str) -> NameSays:
    """Kind and hole that a name carries.

    A kind where the name carries words of exactly one; a hole where it carries exactly one
    number and that is 1 to 54. Words are whole: "greenside" is no green.

    Args:
        name: as in "hole_3_green", "Bunker 4", "Hole 10 18 water".
    """
    words = _words(name)
    kinds = _kinds(words)
    numbers = tuple(int(word) for word in words if word.isdecimal() and len(word) <= 9)
    one = len(numbers) == 1 and 1 <= numbers[0] <= LAST_HOLE
    return NameSays(
        kind=kinds[0] if len(kinds) == 1 else None,
        hole=numbers[0] if one else None,
        kinds=kinds,
        numbers=numbers,
    )


def _without_title(name: str, title: str) -> str:
    """A name without the file's title before it: "green_valley_hole_3_tee" is no green."""
    words, before = _words(name), _words(title)
    after = words[len(before) :]
    if before and words[: len(before)] == before and _kinds(after):
        return " ".join(after)
    return name


def _said(rows: SourceRows) -> list[NameSays]:
    nothing = pd.Series([None] * len(rows.cells), rows.cells.index, dtype=object)
    names, folders = rows.cells.get("name", nothing), rows.cells.get("folder", nothing)
    return [
        name_says("" if is_missing(name) else _without_title(str(name), str(folder or "")))
        for name, folder in zip(names, folders, strict=True)
    ]


def _fits(shape: Any, family: str) -> bool:
    return shape is not None and shape.geom_type.removeprefix("Multi") in (
        family,
        "GeometryCollection",
    )


def only_shapes(rows: SourceRows, table: Table, name: str) -> SourceRows:
    """Rows whose geometry may be the table's; a map file holds points, lines and areas together.

    What is of another geometry is counted in one note.
    """
    if table.shape is None or rows.shapes is None:
        return rows
    family = _FAMILY[table.shape]
    keep = [shape is None or _fits(shape, family) for shape in rows.shapes]
    if all(keep) or not any(keep):
        return rows
    other = pd.Series([s.geom_type for s, k in zip(rows.shapes, keep, strict=True) if not k])
    listed = ", ".join(f"{count} {kind}" for kind, count in other.value_counts().items())
    found = note(
        "features-skipped",
        f"file:{name}",
        f"{name}: {len(other)} features are not {table.name} by their geometry and were left "
        f"aside: {listed}.",
        "Survey them as another table if they matter.",
    )
    chosen = [place for place, wanted in enumerate(keep) if wanted]
    return replace(
        rows,
        cells=rows.cells.iloc[chosen].reset_index(drop=True),
        places=tuple(rows.places[place] for place in chosen),
        shapes=tuple(rows.shapes[place] for place in chosen),
        findings=(*rows.findings, found),
    )


def _listed(rows: SourceRows, which: Sequence[bool]) -> str:
    names = rows.cells.get("name", pd.Series([None] * len(rows.cells), dtype=object))
    picked = [
        f"{place} without a name" if is_missing(name) else f"'{name}'"
        for place, name, wanted in zip(rows.places, names, which, strict=True)
        if wanted
    ]
    more = f" and {len(picked) - _SHOWN} more" if len(picked) > _SHOWN else ""
    return ", ".join(picked[:_SHOWN]) + more


def _doubt(rows: SourceRows, which: Sequence[bool], found: tuple[str, str, str, str]) -> Finding:
    code, name, words, fix = found
    count = sum(which)
    message = f"{name}: {words.format(count)}: {_listed(rows, which)}."
    return warning(code, f"file:{name}", message, fix)


def _doubts(
    rows: SourceRows, said: Sequence[NameSays], tags: Sequence[str | None], name: str
) -> list[Finding]:
    kinds = [says.kind or tag for says, tag in zip(said, tags, strict=True)]
    cases = (
        (
            [kind is None for kind in kinds],
            "kind-not-told",
            "{} shapes were not read, for their names carry no kind, or more than one",
            "Name them with one kind (green, tee, fairway, rough, bunker …), or survey them "
            "apart with --set kind=….",
        ),
        (
            [kind is not None and says.hole is None and bool(says.numbers)
             for kind, says in zip(kinds, said, strict=True)],
            "hole-not-told",
            "{} names carry two numbers or none of 1 to 54, so no hole was taken from them",
            "Nothing where they lie between holes; else name the hole once.",
        ),
        (
            [says.kind is not None and tag is not None and says.kind != tag
             for tag, says in zip(tags, said, strict=True)],
            "name-against-tag",
            "{} names carry another kind than the shape's golf tag; the name was taken",
            "Look at them on the map.",
        ),
    )  # fmt: skip
    return [
        _doubt(rows, which, (c, name, words, fix)) for which, c, words, fix in cases if any(which)
    ]


def _tags(cells: pd.DataFrame) -> list[str | None]:
    if "golf" not in cells:
        return [None] * len(cells)
    return [None if is_missing(tag) else AREA_TAGS.get(str(tag)) for tag in cells["golf"]]


def _areas(rows: SourceRows, name: str, told: set[str]) -> SourceRows:
    said, tags = _said(rows), _tags(rows.cells)
    kinds = [says.kind or tag for says, tag in zip(said, tags, strict=True)]
    cells = rows.cells
    findings: list[Finding] = []
    if "kind" not in told:
        cells = cells.assign(kind=pd.Series(kinds, cells.index, dtype=object))
        findings = _doubts(rows, said, tags, name)
    if "hole" not in told:
        holes = [None if says.hole is None else str(says.hole) for says in said]
        cells = cells.assign(hole=pd.Series(holes, cells.index, dtype=object))
    return replace(
        rows,
        cells=cells,
        findings=(*rows.findings, *findings),
        holes_by_number="hole" not in told,
    )


def named_rows(rows: SourceRows, table: Table, name: str, told: set[str]) -> SourceRows:
    """Rows of a file in which names are all that says what a shape is.

    `areas` take kind and hole from the name (the kind from a golf tag where the name carries
    none), `holes` their number; the name is the label.

    Args:
        rows: the file.
        table: the table to fill.
        name: the file's name, for messages.
        told: our columns that the file, or a person, fills otherwise.
    """
    rows = only_shapes(rows, table, name)
    if table.name == "areas" and not {"kind", "hole"} <= told:
        rows = _areas(rows, name, told)
    elif table.name == "holes" and "number" not in told:
        numbers = pd.Series([says.hole for says in _said(rows)], rows.cells.index, dtype=object)
        rows = replace(rows, cells=rows.cells.assign(number=numbers))
    cells = rows.cells
    if "name" in cells and "label" in table.by_name and "label" not in told:
        cells = cells.rename(columns={"name": "label"})
    return replace(rows, cells=cells)
