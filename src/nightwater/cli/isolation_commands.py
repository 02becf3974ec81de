"""isolate and fill: shut a break off, and fill pipes again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from nightwater.cli.options import CourseArgument, UnitsOption
from nightwater.cli.printing import (
    Format,
    FormatOption,
    frame_rows,
    print_findings,
    print_json,
    print_read,
    print_rows,
    say,
)
from nightwater.desk.course import open_course
from nightwater.desk.documents import write_whole
from nightwater.desk.filling import fill_document, network_fill, surge_rows
from nightwater.desk.isolating import CAUTIONS, ShutOff, Thing, shut_off
from nightwater.desk.isolation_card import card_document, card_pdf, place_words, way_words
from nightwater.units import UnitSystem, shown

_STATIONS = ("label", "kind", "area_label", "controller", "dry_heads", "heads")
_STATIONS_SHOWN = 40
_AIR = ("order", "label", "kind", "way_m", "earliest_min")
_SURGE = ("words", "velocity_m_s", "wave_m_s", "surge_kpa", "set_kpa", "assumed")


def _valve_rows(things: tuple[Thing, ...], what: str, units: UnitSystem) -> list[dict[str, Any]]:
    return [
        {"do": what, "valve": t.label, "kind": t.kind, "where": place_words(t, units)}
        for t in things
    ]


def _show(answer: ShutOff, units: UnitSystem) -> None:
    """The answer as tables, the valves first."""
    rows = [
        *({"do": "stop, lock out", "valve": name, "kind": "pump", "where": ""}
          for name in answer.stop),
        *_valve_rows(answer.close, "close", units),
        *_valve_rows(answer.stands_closed, "see that it holds", units),
        *_valve_rows(answer.fittings, "let pressure out", units),
    ]  # fmt: skip
    title = f"Shut off {answer.pipe_words}"
    print_rows(rows, ("do", "valve", "kind", "where"), Format.TABLE, title)
    stations = [vars(one) for one in answer.stations]
    title = f"{len(stations)} stations lose water"
    print_rows(stations[:_STATIONS_SHOWN], _STATIONS, Format.TABLE, title)
    if len(stations) > _STATIONS_SHOWN:
        say(f"… and {len(stations) - _STATIONS_SHOWN} more; --format csv gives them all.")
    if answer.parts:
        say("This pipe has valves on it; name a place as x,y to shut off less:")
    for part in answer.parts:
        say(f"  {part.x_m:.1f},{part.y_m:.1f} ({shown(part.length_m, 'm', units)})")
    if answer.fewer:
        say(f"{', '.join(answer.fewer.close)} alone would do; {answer.fewer.heads} heads dry.")
    for way in answer.detours:
        say(way_words(way))
    for caution in CAUTIONS:
        say(caution)


def isolate(
    course: CourseArgument,
    at: Annotated[
        str, typer.Argument(metavar="AT", help="pipes:ID, or x,y in the course's metres.")
    ],
    stuck: Annotated[
        list[str] | None,
        typer.Option("--stuck", help="A valve that does not close; may be given again."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the card: a file ending in .pdf or .json.")
    ] = None,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Break here: which valves to close, and which stations then have no water.

    Computed from the record. Depressurise and verify before anybody opens the pipe.
    """
    with open_course(course) as opened:
        answer = shut_off(opened.ground, at, stuck or ())
        settings, read = opened.settings, units or opened.settings.site.units
    if out is not None:
        makers = {
            ".pdf": lambda: card_pdf(answer, settings, units),
            ".json": lambda: card_document(answer, settings, units),
        }
        write_whole(out, makers)
        say(f"Wrote {out}.")
    if form is Format.JSON:
        print_json(card_document(answer, settings, units))
    elif form is Format.CSV:
        print_rows([vars(one) for one in answer.stations], _STATIONS, form, "")
    else:
        _show(answer, read)
        if answer.findings:
            print_findings(answer.findings, form)


def fill(
    course: CourseArgument, units: UnitsOption = None, form: FormatOption = Format.TABLE
) -> None:
    """How to fill the empty network: volume, safe flow, least time, order of air release.

    A person opens every valve; fill slowly and stand clear of air that comes out.
    """
    with open_course(course) as opened:
        document = fill_document(network_fill(opened.ground), opened.ground)
        surge = surge_rows(opened.ground, opened.settings.night)
        usual = opened.settings.site.units
    if form is Format.JSON:
        print_json(document | {"surge": frame_rows(surge)})
        return
    print_read(document["air"], _AIR, form, "Air points, in order", units=units, usual=usual)
    if form is Format.CSV:
        return
    rows = frame_rows(surge)
    title = "A sudden stop at the velocity limit, on top of the running pressure"
    print_read(rows, _SURGE, form, title, units=units, usual=usual)
    read = units or usual
    say(
        f"{shown(document['volume_m3'], 'm3', read)} to fill, at "
        f"{shown(document['flow_l_s'], 'l_s', read)} or less through {document['entry_words']}: "
        f"{document['least_min']:.0f} minutes at least."
    )
    say(document["caution"])


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    app.command()(isolate)
    app.command()(fill)
