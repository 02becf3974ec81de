"""What a course chooses: its place, its night and its rules. Values, never globals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import Field, dataclass, field
from typing import Any, Final

from nightwater.units import UnitSystem

PRIORITY: Final = ("green", "tee", "approach", "fairway", "practice", "grounds", "rough")


@dataclass(frozen=True)
class Range:
    """What a number may be, and the unit it is given in.

    Attributes:
        unit: as people write it.
        least, most: both allowed.
    """

    unit: str
    least: float
    most: float


def ranged(unit: str, least: float, most: float) -> dict[str, Range]:
    """What the declaration of a number keeps: unit and range, for checks, docs and commands."""
    return {"range": Range(unit, least, most)}


def within(unit: str, least: float, most: float, default: Any) -> Any:
    """The declaration of a number that has a default."""
    return field(default=default, metadata=ranged(unit, least, most))


def range_of(declared: Field[Any]) -> Range | None:
    """The range of a field of one of the sections; None where it is no number."""
    found: Range | None = declared.metadata.get("range")
    return found


@dataclass(frozen=True)
class Site:
    """Where the course is.

    Attributes:
        name: what the course is called.
        latitude_deg, longitude_deg: north and east positive.
        elevation_m: height of the weather station.
        timezone: IANA name of the course's local time.
        crs: projected metric system of the record, "EPSG:n" or WKT.
        invented: whether the course is a demo and everything printed must say so.
        units: what people read: "us" or "metric".
    """

    name: str
    latitude_deg: float = field(metadata=ranged("°", -90, 90))
    longitude_deg: float = field(metadata=ranged("°", -180, 180))
    elevation_m: float = field(metadata=ranged("m", -450, 6000))
    timezone: str
    crs: str
    invented: bool = False
    units: UnitSystem = UnitSystem.US


@dataclass(frozen=True)
class NeedRules:
    """How weather and soil become need.

    Attributes:
        method: "refill" to each area's target, or "et_share": `et_share` of the night's
            turf ET, whatever the store holds.
        et_share: fraction of ETc, for "et_share".
        account_start: ISO date of the morning on which the account opens, or None: the
            date of the first approved night, else the night's own date.
        opening_depletion_mm: depletion of every area on that morning, over its target.
        reference: "short" (ETo) or "tall" (ETr).
        kc_table: published coefficients to use: "fao56" (FAO-56 Table 12, one value all
            year) or "uc_anr" (UC ANR 1985, by month in California).
        kc_by_month: per grass (key of GRASSES), 12 coefficients; replaces the built-in
            table for the grasses it names.
        use_trigger: whether an area waits until its allowed depletion is reached.
        slope_share: how much of a cell's need follows the sun on its slope, where levels tell
            the slope; 0 leaves slopes out.
    """

    method: str = "refill"
    et_share: float = within("fraction", 0, 2, 1.0)
    account_start: str | None = None
    opening_depletion_mm: float = within("mm", 0, 500, 0.0)
    reference: str = "short"
    kc_table: str = "fao56"
    kc_by_month: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    use_trigger: bool = False
    slope_share: float = within("fraction", 0, 1, 0.7)


GREENS_HOURS: Final = ("any", "late", "first")
METHODS_OF_MINUTES: Final = ("fitted", "by_rate")
NIGHT_WINDS: Final = ("off", "forecast")
COMPASS: Final = ("n", "ne", "e", "se", "s", "sw", "w", "nw")
SHORTAGE_WORTH: Final = {
    "green": 25.0,
    "tee": 20.0,
    "approach": 15.0,
    "fairway": 12.0,
    "practice": 10.0,
    "grounds": 8.0,
    "rough": 8.0,
}
EXCESS_COST: Final = {
    "green": 0.5,
    "tee": 0.3,
    "approach": 0.2,
    "fairway": 0.1,
    "practice": 0.1,
    "grounds": 0.0,
    "rough": 0.0,
}


@dataclass(frozen=True)
class MinuteRules:
    """How need becomes minutes.

    Attributes:
        method: "fitted" to the map, where patterns are known, or "by_rate" of each station.
        shortage_worth: per kind of area, litres of water that may be spent to bring a litre to
            where it is lacking; the larger, the fewer spots stay dry.
        excess_cost: per kind of area, what a litre beyond the need costs besides the water.
        wettest_share: per kind of area, depth over need that no spot should pass; a kind that
            is not named has no such cap.
        reach_from, reach_full: rate at a spot over the mean of its kind of area. A spot
            below the first is a gap in the pattern, which no minutes mend and none are spent
            on; from the second on a spot counts in full.
        run_time_multiplier: "du_lq" 1/(0.4 + 0.6·DUlq); "inverse_du" 1/DUlq;
            "efficiency" 1/efficiency; "none" 1.
        least_turns: full turns a head must make for its water to be even.
        default_rotation_s: for nozzles without a rotation time.
        least_need_mm: a need below this waits for another night (not watered, kept as debt).
        night_wind: "off" for still air, or "forecast": fitted minutes and maps take the wind that
            the weather tells of the night's hours, and what is lost in it.
        night_wind_from: where wind mostly comes from at night, so that patterns drift with
            it: n, ne, e, se, s, sw, w, nw; "unknown" bends no pattern.
    """

    method: str = "fitted"
    shortage_worth: Mapping[str, float] = field(default_factory=lambda: dict(SHORTAGE_WORTH))
    excess_cost: Mapping[str, float] = field(default_factory=lambda: dict(EXCESS_COST))
    wettest_share: Mapping[str, float] = field(default_factory=dict)
    reach_from: float = within("fraction", 0, 1, 0.25)
    reach_full: float = within("fraction", 0, 2, 0.75)
    run_time_multiplier: str = "du_lq"
    least_turns: float = within("turns", 0, 20, 2.0)
    default_rotation_s: float = within("s", 1, 900, 180.0)
    least_need_mm: float = within("mm", 0, 50, 0.5)
    night_wind: str = "off"
    night_wind_from: str = "unknown"


HOURS_OF_FIX: Final = {
    "tilted-head": 0.5,
    "sunken-head": 0.75,
    "worn-nozzle": 0.25,
    "broken-head": 1.0,
    "low-pressure": 1.0,
    "wrong-nozzle": 0.25,
    "wrong-arc": 0.25,
    "pattern-gap": 8.0,
}


@dataclass(frozen=True)
class FixRules:
    """What counts as a dry spot, and what a repair costs.

    Attributes:
        least_lack_share: a spot that lacks this share of its need is dry.
        least_m2: smaller dry spots are left out.
        gap_reach: rate over the mean of its kind of area below which a pattern has a gap.
        season_nights: nights of a season on which a repair saves what it saves tonight.
        hours: per cause, hours of work of one repair.
    """

    least_lack_share: float = within("fraction", 0.01, 1, 0.25)
    least_m2: float = within("m²", 1, 10_000, 20.0)
    gap_reach: float = within("fraction", 0.05, 1, 0.5)
    season_nights: int = within("nights", 1, 366, 100)
    hours: Mapping[str, float] = field(default_factory=lambda: dict(HOURS_OF_FIX))


@dataclass(frozen=True)
class NightRules:
    """What a night must keep.

    Attributes:
        start, end: local clock times "HH:MM", or None for sunset and sunrise.
        after_sunset_min, before_sunrise_min: margins where the time is computed.
        kind_windows: per area kind, (start, end) local clock times of its own window;
            "" stands for the night's own start or end.
        priority: area kinds, first served first, when not all fits.
        pump_use: share of pump capacity that a plan may use, 0 to 1.
        max_velocity_m_s: velocity limit of pipes that have none (5 ft/s).
        loop_margin: share of a looped pipe's limit that a plan may use, until the
            network is solved hydraulically.
        max_heads_on: heads at once on a controller that states no limit.
        max_kw: power that the pumps may draw at any minute; 0 is no ceiling.
        greens: "any" hours, "late" (only in the last `greens_within_min` before the night's end
            and its rescue slot) or "first" (only in the first).
        greens_within_min: see `greens`.
        rescue_min: minutes at the night's end in which nothing is planned, for what must run
            again.
        area_windows: per area id, (start, end) local clock times of its own hours; "" stands
            for the night's own start or end.
        run_by: per subject ("areas:ID", "holes:ID", "kind:KIND", "stations:ID" or "course") a
            night (ISO date), the local clock time by which its stations must have run in that
            night, and the reason, such as a product to be watered in.
        apart_m: stations with heads nearer to one another than this do not run at once; 0 is
            no such rule.
        wind_kinds: area kinds that run in the calm hours, where an hourly forecast is there.
        calm_m_s: mean wind up to which an hour is calm.
        pressure_within: share of its design pressure by which a head's may lie lower while it
            runs, by the solved network.
        least_head_kpa: pressure that an open head must have in any case; 0 is no floor.
    """

    start: str | None = None
    end: str | None = None
    after_sunset_min: int = within("min", -120, 240, 30)
    before_sunrise_min: int = within("min", -120, 240, 30)
    kind_windows: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    priority: tuple[str, ...] = PRIORITY
    pump_use: float = within("fraction", 0.05, 1, 0.85)
    max_velocity_m_s: float = within("m/s", 0.3, 4, 1.524)
    loop_margin: float = within("fraction", 0.05, 1, 0.8)
    max_heads_on: int = within("heads", 1, 500, 40)
    max_kw: float = within("kW", 0, 20000, 0.0)
    greens: str = "any"
    greens_within_min: int = within("min", 10, 720, 150)
    rescue_min: int = within("min", 0, 240, 0)
    area_windows: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    run_by: Mapping[str, tuple[str, str, str]] = field(default_factory=dict)
    apart_m: float = within("m", 0, 100, 0.0)
    wind_kinds: tuple[str, ...] = ()
    calm_m_s: float = within("m/s", 0.5, 20, 4.5)
    pressure_within: float = within("fraction", 0.01, 0.9, 0.1)
    least_head_kpa: float = within("kPa", 0, 1000, 0.0)


WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
BLOCK_UNITS: Final = ("kwh", "kwh_per_kw")


@dataclass(frozen=True)
class TariffPeriod:
    """A part of the time with prices of its own for electricity.

    Attributes:
        name: as the tariff calls it.
        start, end: local clock times "HH:MM", "24:00" for the day's end; over midnight where the
            end is the smaller.
        months: 1 to 12; none stands for all.
        weekdays: "mon" to "sun", of the calendar day of each minute; none stands for all.
        per_kwh: price of a kilowatt-hour, beyond the blocks where there are any.
        per_kw: price of a month's highest kilowatt in this period, beyond its blocks.
        kwh_blocks: (up to, price) from the month's first kilowatt-hour on, limits rising.
        block_unit: what the limits of kwh_blocks count: "kwh", or "kwh_per_kw" of the month's
            highest kilowatt.
        kw_blocks: (up to kW, price), limits rising.
    """

    name: str
    start: str = "00:00"
    end: str = "24:00"
    months: tuple[int, ...] = ()
    weekdays: tuple[str, ...] = ()
    per_kwh: float = 0.0
    per_kw: float = 0.0
    kwh_blocks: tuple[tuple[float, float], ...] = ()
    block_unit: str = "kwh"
    kw_blocks: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class MoneyRules:
    """What water and energy cost, for the ledger's estimates.

    Attributes:
        currency: sign printed before money.
        energy_per_kwh: price of a kilowatt-hour outside all periods.
        demand_per_kw: price of a month's highest kilowatt at any time, besides the periods'.
        demand_min: minutes over which demand is averaged.
        periods: parts of the time with prices of their own, the first that fits counts; each has
            name, start, end, months, weekdays, per_kwh, per_kw, kwh_blocks, block_unit and
            kw_blocks, see docs/how/energy.md.
        water_per_m3: price of a cubic metre, for sources that state none.
    """

    currency: str = "$"
    energy_per_kwh: float = within("currency per kWh", 0, 1000, 0.0)
    water_per_m3: float = within("currency per m³", 0, 1000, 0.0)
    demand_per_kw: float = within("currency per kW and month", 0, 10_000, 0.0)
    demand_min: int = within("min", 5, 60, 15)
    periods: tuple[TariffPeriod, ...] = ()

    @property
    def prices_energy(self) -> bool:
        """Whether electricity costs anything by these settings."""
        return self.energy_per_kwh > 0 or self.demand_per_kw > 0 or bool(self.periods)


@dataclass(frozen=True)
class RecordRules:
    """How the club counts and groups its heads, for proposals and reconciling.

    Attributes:
        numbers: rules of order and labels as plain values, see docs/how/proposals.md; what
            they leave out is the trade's usual.
        pairs: rules of which heads share a station, as plain values.
    """

    numbers: Mapping[str, object] = field(default_factory=dict)
    pairs: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class Settings:
    """Everything a course chooses."""

    site: Site
    record: RecordRules = RecordRules()
    need: NeedRules = NeedRules()
    minutes: MinuteRules = MinuteRules()
    fixes: FixRules = FixRules()
    night: NightRules = NightRules()
    money: MoneyRules = MoneyRules()
    first_tee: str = "07:00"


SECTIONS: Final[Mapping[str, type]] = {
    "site": Site,
    "record": RecordRules,
    "need": NeedRules,
    "minutes": MinuteRules,
    "fixes": FixRules,
    "night": NightRules,
    "money": MoneyRules,
}
