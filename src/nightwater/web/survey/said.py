"""What a person says of a file: the state of the page, kept in its address."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query
from pydantic import BaseModel

from nightwater.survey.hard_ground import told_width_m
from nightwater.survey.read import ReadOptions

Text = Annotated[str, Query(max_length=200)]


class Said(BaseModel):
    """Which table a file fills, and how it is to be read.

    Attributes:
        table: which table.
        crs, layer, drawing_unit, within: as for `ReadOptions`; empty where not said.
        fixed: "ours=value" for every row, parted by commas.
        path_width: how wide paths are that are drawn as lines: "2.4m", "8ft".
        complete: whether the file lists all rows.
        theirs, ours, unit: their columns with what was chosen for each, in one order.
    """

    table: Text = "heads"
    crs: Text = ""
    layer: Text = ""
    drawing_unit: Text = ""
    within: Text = ""
    path_width: Text = ""
    fixed: Text = ""
    complete: bool = False
    theirs: list[str] = []
    ours: list[str] = []
    unit: list[str] = []

    def options(self) -> ReadOptions:
        """The options of the reader; what is not said stays unsaid."""
        columns = {t: o for t, o in zip(self.theirs, self.ours, strict=False) if o}
        units = {t: u for t, u in zip(self.theirs, self.unit, strict=False) if u}
        pairs = (pair.split("=", 1) for pair in self.fixed.split(",") if "=" in pair)
        return ReadOptions(
            crs=self.crs.strip() or None,
            layer=self.layer.strip() or None,
            drawing_unit=self.drawing_unit.strip() or None,
            within=self.within.strip() or None,
            path_width_m=told_width_m(self.path_width) if self.path_width.strip() else None,
            columns=columns,
            units=units,
            fixed={ours.strip(): value.strip() for ours, value in pairs},
        )


class Chosen(BaseModel):
    """What a person accepts: whole parts by name, single rows by id, and why."""

    part: list[str] = []
    row: list[str] = []
    why: str = ""
