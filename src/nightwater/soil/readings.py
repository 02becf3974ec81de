"""Which moisture readings may speak for an area tonight, and what each says against the account."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, note, warning
from nightwater.soil.defaults import FIELD_CAPACITY_PCT

OLDEST_DAYS: Final = 7.0
# Standard deviations by volume, common practice, no source: what a meter repeats within and what
# differs within an arm's length; and how much of a pattern a day of sun and water blurs.
SPOT_STD_PCT: Final = 2.0
AGEING_STD_PCT: Final = 1.0
# A probe speaks for the roots where its length is within these shares of their depth.
SHORTEST_PROBE, LONGEST_PROBE = 0.5, 1.5
MOST_READINGS: Final = 500  # of one area; the newest count
_SECONDS_PER_DAY: Final = 86_400.0

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class AreaReadings:
    """The readings of one area that count: one meter, one depth, fresh, with a place.

    Attributes:
        area: id of the area.
        meter: name of the meter, "" where none is named.
        depth_mm: length of its probe.
        x_m, y_m: where.
        drier_pct: how much drier the soil is than the account says, by volume; negative
            where it is wetter.
        std_pct: deviation of each from meter, spot and age.
    """

    area: str
    meter: str
    depth_mm: float
    x_m: Numbers
    y_m: Numbers
    drier_pct: Numbers
    std_pct: Numbers

    def __len__(self) -> int:
        return len(self.x_m)


def reading_std_pct(age_days: Numbers) -> Numbers:
    """Deviation of a reading [% by volume] that is so many days old; NaN in, NaN out."""
    return np.hypot(SPOT_STD_PCT, AGEING_STD_PCT * np.asarray(age_days, dtype=float))


def _evening(night: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(night + timedelta(days=1), time(), zone)


def _dated(readings: pd.DataFrame, night: date, timezone: str) -> pd.DataFrame:
    """Readings with local date, share of that day gone, and age at the night's midnight."""
    zone = ZoneInfo(timezone)
    local = [datetime.fromisoformat(str(text)).astimezone(zone) for text in readings["time"]]
    midnight = _evening(night, zone)
    age = [(midnight - moment).total_seconds() / _SECONDS_PER_DAY for moment in local]
    share = [(m.hour * 3600 + m.minute * 60 + m.second) / _SECONDS_PER_DAY for m in local]
    dates = pd.Series([m.date() for m in local], index=readings.index, dtype=object)
    return readings.assign(date=dates, day_share=share, age_days=age)


def _account_mm(dated: pd.DataFrame, account: pd.DataFrame) -> Numbers:
    """Depletion that the account has at each reading, even over the day; NaN before it opens."""
    book = account.set_index(["date", "area"])
    keys = pd.MultiIndex.from_frame(dated[["date", "area"]])
    rows = book[["depletion_start_mm", "irrigation_mm", "depletion_end_mm"]].reindex(keys)
    start, water, end = rows.to_numpy(dtype=float).T
    morning = np.maximum(start - water, 0.0)
    share = dated["day_share"].to_numpy(dtype=float)
    return np.asarray(morning + share * (end - morning))


def _told(rows: pd.DataFrame, code: str, what: str, fix: str, *, grave: bool) -> Finding:
    say = warning if grave else note
    first = rows.index[0]
    count = f"{len(rows)} moisture readings" if len(rows) > 1 else "A moisture reading"
    return say(code, f"readings:{first}", f"{count} left out of the map of need: {what}.", fix)


_SIFTED: Final = (
    ("reading-without-place", "no place or no area of the turf", "Give point and area.", True),
    ("reading-depth-unknown", "the probe's depth is not known", "Enter depth_mm.", True),
    (
        "reading-depth-unlike-roots",
        "the probe is shorter than half the roots, or longer than one and a half times them",
        "Read with a probe of about the roots' depth, or correct root_depth_mm.",
        True,
    ),
    (
        "reading-too-old",
        f"older than {OLDEST_DAYS:g} days, from after the night, or before the account opens",
        "Read again where it matters.",
        False,
    ),
)


def _faults(dated: pd.DataFrame, areas: pd.DataFrame, account_mm: Numbers) -> list[Any]:
    roots = dated["area"].map(areas["root_depth_mm"]).to_numpy(dtype=float)
    depth = dated["depth_mm"].to_numpy(dtype=float)
    age = dated["age_days"].to_numpy(dtype=float)
    placed = np.isfinite(dated["x_m"].to_numpy(dtype=float)) & np.isfinite(roots)
    like = (depth >= SHORTEST_PROBE * roots) & (depth <= LONGEST_PROBE * roots)
    fresh = (age >= 0) & (age <= OLDEST_DAYS) & np.isfinite(account_mm)
    return [~placed, np.isnan(depth), ~like, ~fresh]


def _sifted(
    dated: pd.DataFrame, areas: pd.DataFrame, account: pd.DataFrame
) -> tuple[pd.DataFrame, list[Finding]]:
    """Readings that can be used, with the account's depletion; each fault told once."""
    dated = dated.assign(account_mm=_account_mm(dated, account))
    left, findings = np.zeros(len(dated), dtype=bool), []
    for bad, (code, what, fix, grave) in zip(
        _faults(dated, areas, dated["account_mm"].to_numpy(dtype=float)), _SIFTED, strict=True
    ):
        new = bad & ~left
        if new.any():
            findings.append(_told(dated[new], code, what, fix, grave=grave))
        left |= bad
    return dated[~left], findings


def _one_kind(rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The readings of the meter and depth that most of an area's have, and the others."""
    keys = rows.groupby(["meter", "depth_mm"], sort=True)["age_days"].agg(["size", "min"])
    best = keys.sort_values(["size", "min"], ascending=[False, True], kind="stable").index[0]
    mine = (rows["meter"] == best[0]) & (rows["depth_mm"] == best[1])
    newest = rows[mine].sort_values("age_days", kind="stable")
    return newest.iloc[:MOST_READINGS], rows[~mine]


def _of_area(name: str, rows: pd.DataFrame, area: pd.Series[Any]) -> AreaReadings:
    held_pct = 100.0 * rows["account_mm"].to_numpy(dtype=float) / float(area["root_depth_mm"])
    lacking = FIELD_CAPACITY_PCT[str(area["soil"])] - rows["vwc_pct"].to_numpy(dtype=float)
    return AreaReadings(
        area=name,
        meter=str(rows["meter"].iloc[0]),
        depth_mm=float(rows["depth_mm"].iloc[0]),
        x_m=rows["x_m"].to_numpy(dtype=float),
        y_m=rows["y_m"].to_numpy(dtype=float),
        drier_pct=lacking - held_pct,
        std_pct=reading_std_pct(rows["age_days"].to_numpy(dtype=float)),
    )


def _grouped(rows: pd.DataFrame, areas: pd.DataFrame) -> Iterator[AreaReadings | Finding]:
    for name, of_area in rows.groupby("area", sort=True):
        mine, others = _one_kind(of_area)
        if len(others):
            what = f"{name} is mapped by another meter or depth, and kinds are not mixed"
            fix = "Read an area with one meter at one depth."
            yield _told(others, "readings-of-several-kinds", what, fix, grave=True)
        yield _of_area(str(name), mine, areas.loc[[str(name)]].iloc[0])


def readings_by_area(
    readings: pd.DataFrame,
    areas: pd.DataFrame,
    account: pd.DataFrame,
    night: date,
    timezone: str,
) -> tuple[tuple[AreaReadings, ...], list[Finding]]:
    """The readings that count tonight, by area, each as how much drier than the account.

    A reading is held against the account of its own day and hour, so that what the turf used
    and got since is carried by the account; its deviation grows with its age.

    Args:
        readings: columns area, time (UTC, ISO 8601), vwc_pct, depth_mm, meter, x_m, y_m.
        areas: rows of `soil.defaults.area_defaults`.
        account: `NeedResult.account`.
        night: date of the night.
        timezone: IANA name of the course's local time.

    Returns:
        Areas that have such readings, and findings about those left out.
    """
    if readings.empty:
        return (), []
    named = readings.assign(meter=readings["meter"].fillna("").astype(str))
    sound, findings = _sifted(_dated(named, night, timezone), areas, account)
    found: list[AreaReadings] = []
    for one in _grouped(sound, areas):
        if isinstance(one, Finding):
            findings.append(one)
        else:
            found.append(one)
    return tuple(found), findings
