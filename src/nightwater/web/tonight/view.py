"""What the Tonight page shows of a stored night."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, ClassVar, Final, Literal

from nightwater.desk.nights import StoredNight
from nightwater.desk.sheet import clock
from nightwater.findings import Severity
from nightwater.ground.record import Ground
from nightwater.ground.settings import PRIORITY
from nightwater.night.plan import Night
from nightwater.units import UnitSystem
from nightwater.web.access.roles import Deed, why_not
from nightwater.web.doorway import Visit
from nightwater.web.figures import quantity
from nightwater.web.places import Places, labels
from nightwater.web.scale import NO_VALUE, Scale, scale_of
from nightwater.web.state import NONE_IF_EMPTY, PageState, SearchText
from nightwater.web.tonight.rows import StationRow, station_rows
from nightwater.web.tonight.search import Wish, matching, ordered

FIRST_ROWS: Final = 60


class Query(PageState):
    """The state of the page, all of it in the address.

    Attributes:
        night: evening's date; None stands for the day on which the pages open.
        q, kind, hole: what the table is filtered by.
        sort: one of `search.ORDERS`.
        colour: what the map is coloured by.
        all: whether every row is shown.
        subject: what the map looks at, as table:id.
        against: what the night is compared to.
    """

    path: ClassVar[str] = "/tonight"

    night: Annotated[date | None, NONE_IF_EMPTY] = None
    q: SearchText = ""
    kind: str = ""
    hole: Annotated[int | None, NONE_IF_EMPTY] = None
    sort: str = "start"
    colour: Literal["need", "minutes"] = "need"
    all: bool = False
    subject: str = ""
    against: Literal["last", "ordinary"] = "last"

    def kept(self, without: tuple[str, ...]) -> dict[str, str]:
        """What a form must carry along so that the rest of the state stays."""
        state = self.model_dump(exclude_defaults=True, exclude=set(without), mode="json")
        return {key: "1" if value is True else str(value) for key, value in state.items()}

    @property
    def filtered(self) -> bool:
        """Whether the table is asked for less than everything."""
        return bool(self.q or self.kind or self.hole is not None)

    @property
    def wish(self) -> Wish:
        """What the table is asked to show."""
        return Wish(self.q, self.kind, self.hole)


@dataclass(frozen=True)
class Table:
    """The station table after filter and sort.

    Attributes:
        rows: those shown.
        found: how many fit.
        of: how many stations the plan has.
        minutes, volume_m3: of all that fit.
        kinds, holes: what the filters offer.
    """

    rows: list[StationRow]
    found: int
    of: int
    minutes: int
    volume_m3: float
    kinds: list[str]
    holes: tuple[int, ...]


def _volume_m3(rows: list[StationRow]) -> float:
    known = [row for row in rows if row.flow_l_s == row.flow_l_s]
    return sum(row.flow_l_s * row.placed_min for row in known) * 60 / 1000


def kinds_of(rows: list[StationRow]) -> list[str]:
    """The area kinds of a plan in the order of the map's legend."""
    present = {row.kind for row in rows}
    return [kind for kind in PRIORITY if kind in present]


def station_table(visit: Visit, night: Night, query: Query) -> Table:
    """The table that the query asks for."""
    rows = station_rows(night, visit.places, visit.course.settings.site.timezone)
    kinds, holes = kinds_of(rows), visit.places.holes
    found = ordered(matching(rows, query.wish, kinds, holes), query.sort)
    return Table(
        rows=found if query.all else found[:FIRST_ROWS],
        found=len(found),
        of=len(rows),
        minutes=sum(row.placed_min for row in found),
        volume_m3=_volume_m3(found),
        kinds=kinds,
        holes=holes,
    )


def need_scale(night: Night, units: UnitSystem) -> Scale:
    """Classes of need."""
    return scale_of([item.need_mm for item in night.sums], "mm", units)


def minutes_scale(night: Night, units: UnitSystem) -> Scale:
    """Classes of minutes."""
    return scale_of([float(item.run_min) for item in night.sums], "min", units)


def _band_name(scale: Scale, value: float) -> str:
    band = scale.band(value)
    return "missing" if band == NO_VALUE else f"band-{band}-of-{len(scale.bands) - 1}"


def placed_minutes(night: Night) -> dict[str, int]:
    """Minutes that the night gives each station of the plan."""
    placed = {item.station: 0 for item in night.sums}
    for run in night.runs:
        placed[run.station] = placed.get(run.station, 0) + run.run_min
    return placed


def map_values(night: Night, places: Places, units: UnitSystem) -> dict[str, Any]:
    """What the map shows: classes by need and by minutes, and a text for each subject.

    Areas are coloured by need, and stations by that of their area; by minutes the stations
    alone are coloured, for an area has no minutes of its own.
    """
    need, minutes = need_scale(night, units), minutes_scale(night, units)
    placed = placed_minutes(night)
    needs = {i.station: _band_name(need, i.need_mm) for i in night.sums}
    given = {name: _band_name(minutes, float(value)) for name, value in placed.items()}
    areas = {i.area: needs[i.station] for i in night.sums if i.area}
    texts = {
        f"areas:{i.area}": f"{places.area_label.get(i.area, i.area)}: "
        f"need {quantity(i.need_mm, 'mm', units)}"
        for i in night.sums
        if i.area
    } | {
        f"stations:{i.station}": f"Station {places.station_label.get(i.station, i.station)}: "
        f"{placed[i.station]} min, need {quantity(i.need_mm, 'mm', units)}"
        for i in night.sums
    }
    shown = {
        "need": {"areas": areas, "stations": needs},
        "minutes": {"areas": {}, "stations": given},
    }
    return {"shown": shown, "texts": texts}


@dataclass(frozen=True)
class LeftGroup:
    """Stations of one kind that are left out for one reason."""

    kind: str
    reason: str
    stations: int
    owed_min: int


def left_groups(night: Night) -> list[LeftGroup]:
    """What is left out, by kind and reason, most owed first."""
    kinds = {item.station: item.kind for item in night.sums}
    owed: dict[tuple[str, str], list[int]] = {}
    for item in night.left_out:
        owed.setdefault((kinds.get(item.station, ""), item.reason), []).append(item.owed_min)
    groups = [LeftGroup(*key, len(minutes), sum(minutes)) for key, minutes in owed.items()]
    return sorted(groups, key=lambda group: -group.owed_min)


def why_not_approve(visit: Visit, stored: StoredNight) -> str | None:
    """Why a draft cannot be approved, or None."""
    errors = [f for f in stored.plan.findings if f.severity is Severity.ERROR]
    if errors:
        return f"The referee refuses this night: {errors[0].message}"
    return why_not(visit.person.role, Deed.APPROVE)


def headline(night: Night, timezone: str) -> dict[str, str]:
    """Clock times and the gap, as the page's first line says them."""
    return {
        "start": clock(night, 0, timezone),
        "first": clock(night, min((run.start_min for run in night.runs), default=0), timezone),
        "end": clock(night, night.window.minutes, timezone),
        "finish": clock(night, night.finish_min, timezone),
        "bound": clock(night, night.bound.minutes, timezone),
    }


def binding_words(binding: str, ground: Ground) -> str:
    """What holds the night back, in words."""
    subject, _, name = binding.partition(":")
    table = {"pipe": ground.pipes, "controller": ground.controllers, "chain": ground.stations}
    if subject in table:
        name = labels(table[subject]).get(name, name)
    words = {
        "pump": "what the pumps may give",
        "pipe": f"what pipe {name} can carry",
        "controller": f"how many heads controller {name} may hold open",
        "chain": f"the cycles and soaks of station {name}",
        "window": f"the hours in which {name} areas may be watered",
    }
    return words.get(subject, binding)
