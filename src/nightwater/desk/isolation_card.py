"""The shut-off card: one page to take along to a break."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, Final

import typst

from nightwater.desk.isolating import CAUTIONS, DryStation, ShutOff, Thing, Way
from nightwater.ground.settings import Settings
from nightwater.pipes.segments import ISOLATION
from nightwater.units import UnitSystem, shown

MOST_STATIONS: Final = 260
MOST_FITTINGS: Final = 12


def place_words(thing: Thing, units: UnitSystem) -> str:
    """Where a valve stands, from the break: "310 ft north-east of the break, on main M-05"."""
    on = f", on {thing.on}" if thing.on else ""
    if not thing.direction:
        return "place not surveyed"
    return f"{shown(thing.away_m, 'm', units)} {thing.direction} of the break{on}"


def station_words(one: DryStation) -> str:
    """A station, and how much of it where not all of it is dry."""
    part = "" if one.dry_heads == one.heads else f" ({one.dry_heads} of {one.heads} heads)"
    return f"{one.label}{part}"


def way_words(way: Way) -> str:
    """A detour in words."""
    first = f"close also {', '.join(way.close)}, then " if way.close else ""
    some = "one of " if len(way.open) > 1 else ""
    return (
        f"Water can come back to {way.heads} heads: {first}open {some}{', '.join(way.open)}, which "
        "stands closed."
    )


def _rows(things: tuple[Thing, ...], units: UnitSystem) -> list[list[str]]:
    return [[t.label, "" if t.kind == ISOLATION else t.kind, place_words(t, units)] for t in things]


def _grouped(stations: tuple[DryStation, ...]) -> list[list[str]]:
    """Area and its stations, as printed."""
    groups: dict[str, list[str]] = {}
    for one in stations[:MOST_STATIONS]:
        groups.setdefault(one.area_label or "no area", []).append(station_words(one))
    return [[area, ", ".join(named)] for area, named in groups.items()]


def card_document(
    answer: ShutOff, settings: Settings, units: UnitSystem | None = None
) -> dict[str, Any]:
    """What the card says, as plain values in the reader's units."""
    read = units or settings.site.units
    refill = answer.refill
    return {
        "club": settings.site.name,
        "invented": settings.site.invented,
        "title": answer.pipe_words,
        "place": f"{answer.x_m:.0f}, {answer.y_m:.0f} m",
        "stop": list(answer.stop),
        "close": _rows(answer.close, read),
        "stands_closed": _rows(answer.stands_closed, read),
        "fittings": _rows(answer.fittings[:MOST_FITTINGS], read),
        "more_fittings": max(0, len(answer.fittings) - MOST_FITTINGS),
        "stuck": list(answer.stuck),
        "stations": _grouped(answer.stations),
        "station_count": len(answer.stations),
        "more_stations": max(0, len(answer.stations) - MOST_STATIONS),
        "heads": answer.dry_heads,
        "length": shown(answer.dry_m, "m", read),
        "volume": shown(refill.volume_m3, "m3", read),
        "fill_flow": shown(refill.flow_l_s, "l_s", read),
        "fill_min": f"{refill.least_min:.0f}",
        "fewer": answer.fewer
        and f"{', '.join(answer.fewer.close)} alone would do, and leave {answer.fewer.heads} heads "
        "dry.",
        "detours": [way_words(way) for way in answer.detours],
        "unfed": answer.unfed,
        "cautions": list(CAUTIONS),
    }


def card_pdf(answer: ShutOff, settings: Settings, units: UnitSystem | None = None) -> bytes:
    """The card as a PDF."""
    template = files("nightwater.desk").joinpath("isolation.typ").read_bytes()
    document = json.dumps(card_document(answer, settings, units))
    pdf: bytes = typst.compile(template, sys_inputs={"sheet": document})
    return pdf
