"""What the Coverage page shows: a spot, an area, and the table of uniformities."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.desk.coverage import MapKind
from nightwater.desk.coverage_figures import GroupBy, cell_groups
from nightwater.desk.spot_tonight import Spot, head_place_m, spot_tonight
from nightwater.findings import NotFoundError
from nightwater.spray.evenness import densogram
from nightwater.units import UnitSystem
from nightwater.web.coverage.charts import densogram_rows
from nightwater.web.coverage.state import (
    Asked,
    Query,
    built_wetting,
    turf_figures,
    turf_map,
    turf_wetting,
)
from nightwater.web.doorway import Visit
from nightwater.web.figures import percent, quantity
from nightwater.web.places import labels

FIRST_ROWS: Final = 15
MOST_COEFFICIENT: Final = 10.0  # beyond it a run time means nothing any more


@dataclass(frozen=True)
class Figures:
    """One group's figures as texts."""

    id: str
    label: str
    kind: str
    turf: str
    mean: str
    need: str
    du_lq: str
    du_lh: str
    cu: str
    coefficient: str
    window: str
    window_at: str
    short: str
    lacking: str


def two_digits(share: float) -> str:
    """A uniformity, as the trade writes it."""
    return "–" if math.isnan(share) else f"{share:.2f}"


def coefficient_words(value: float) -> str:
    """A scheduling coefficient; where a window is all but dry no run time makes up for it."""
    if math.isnan(value):
        return "–"
    return f"over {MOST_COEFFICIENT:g}" if value > MOST_COEFFICIENT else f"{value:.2f}"


def figures_of(name: str, row: pd.Series[Any], units: UnitSystem) -> Figures:
    """A row of `coverage_figures` as a person reads it."""
    rate = "mean_mm_h" in row
    at_x, at_y = row.get("window_x_m", math.nan), row.get("window_y_m", math.nan)
    return Figures(
        id=name,
        label=row["label"],
        kind=row["kind"],
        turf=quantity(row["turf_m2"], "m2", units),
        mean=quantity(row["mean_mm_h" if rate else "mean_mm"], "mm_h" if rate else "mm", units),
        need=quantity(row.get("need_mm"), "mm", units),
        du_lq=two_digits(row["du_lq"]),
        du_lh=two_digits(row["du_lh"]),
        cu=two_digits(row["cu"]),
        coefficient=coefficient_words(row["scheduling_coefficient"]),
        window=quantity(row["window_m"], "m", units),
        window_at="" if math.isnan(at_x) else f"x={at_x:.1f}&y={at_y:.1f}",
        short=percent(row.get("short_share")),
        lacking=quantity(row.get("short_m3"), "m3", units),
    )


@dataclass(frozen=True)
class FiguresTable:
    """The table of uniformities: kinds in the trade's order, others the least even first."""

    rows: tuple[Figures, ...]
    found: int
    kinds: tuple[str, ...]


def figures_table(visit: Visit, what: Asked) -> FiguresTable:
    """The rows that the query asks for."""
    table = turf_figures(visit, what, what.query.by)
    kinds = tuple(dict.fromkeys(kind for kind in table["kind"] if kind))
    if what.query.kind:
        table = table[table["kind"] == what.query.kind]
    ordered = table
    if what.query.by is not GroupBy.KIND:
        ordered = table.sort_values("du_lq", kind="stable", na_position="first")
    first = ordered if what.query.all else ordered.head(FIRST_ROWS)
    rows = tuple(figures_of(str(name), row, visit.units) for name, row in first.iterrows())
    return FiguresTable(rows, len(table), kinds if what.query.by is GroupBy.AREA else ())


def _head_id(visit: Visit, asked_for: str) -> str:
    """The id of a head by id or label.

    Raises:
        NotFoundError: no head is called so.
    """
    names = labels(visit.course.ground.heads)
    wanted = asked_for.strip().casefold()
    if asked_for.strip() in names:
        return asked_for.strip()
    found = [name for name, label in names.items() if wanted in (name.casefold(), label.casefold())]
    if not found:
        raise NotFoundError(f"No head is called '{asked_for}'. The search on Ground finds heads.")
    return found[0]


def query_place(visit: Visit, query: Query) -> tuple[float, float] | None:
    """Where the query points: its place, or that of its head."""
    if query.head:
        return head_place_m(visit.course.ground, _head_id(visit, query.head))
    return query.spot


def balance_words(spot: Spot, units: UnitSystem) -> str:
    """Whether a spot gets what it needs, as a person says it."""
    if math.isnan(spot.need_mm) or math.isnan(spot.depth_mm):
        return ""
    depth, need = (quantity(value, "mm", units) for value in (spot.depth_mm, spot.need_mm))
    number, symbol = depth.split()
    # Of the numbers as they are shown, so that a reader's own subtraction agrees.
    over = float(number.replace(",", "")) - float(need.split()[0].replace(",", ""))
    decimals = len(number.partition(".")[2])
    if round(over, decimals) == 0:
        return "as needed"
    return f"{abs(over):.{decimals}f} {symbol} {'over' if over > 0 else 'short'}"


def area_densogram(visit: Visit, what: Asked, area: str) -> NDArray[np.float64]:
    """Shares of an area's turf by depth over its mean.

    Raises:
        NotFoundError: no such area.
    """
    wet = built_wetting(visit)
    groups = cell_groups(visit.course.ground, wet, GroupBy.AREA).only([area])
    if not groups.ids:
        raise NotFoundError(f"There is no area '{area}' in the record.")
    shown = turf_map(visit, what)
    inside = groups.of_cell >= 0
    shares: NDArray[np.float64] = densogram(shown.even[inside], groups.of_cell[inside], 1)[0]
    return shares


def _area_values(visit: Visit, what: Asked, area: str) -> dict[str, Any]:
    table = turf_figures(visit, what, GroupBy.AREA)
    if area not in table.index:
        if area in visit.course.ground.areas.index:
            return {"one": None, "bars": ()}
        raise NotFoundError(f"There is no area '{area}' in the record.")
    bars = densogram_rows(area_densogram(visit, what, area))
    shown = [bar for bar in bars if bar["share"] > 0]
    return {"one": figures_of(area, table.loc[[area]].iloc[0], visit.units), "bars": shown}


def panel_values(visit: Visit, what: Asked) -> dict[str, Any]:
    """What the panel beside the map says: the spot, and its area or the one chosen.

    Raises:
        NotFoundError: no such area or head.
    """
    place = query_place(visit, what.query)
    spot = None
    if place is not None:
        shown = turf_map(visit, what)
        spot = spot_tonight(
            visit.course.ground, turf_wetting(visit, what), shown, what.stored, place
        )
    area = (spot.area or "") if spot else what.query.area
    values = _area_values(visit, what, area) if area else {"one": None, "bars": ()}
    return values | {
        "spot": spot,
        "balance": balance_words(spot, visit.units) if spot else "",
        "area": area,
        "head_labels": labels(visit.course.ground.heads) if spot else {},
        "station_labels": visit.places.station_label,
        "area_labels": visit.places.area_label,
        "has_night": what.stored is not None,
        "is_rate": what.show is MapKind.RATE,
    }
