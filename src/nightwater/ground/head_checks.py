"""Doubts about heads: without station, area, nozzle or flow, or with an odd one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import pandas as pd

from nightwater.findings import Finding, error, note, warning
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.tables import WATERED_KINDS
from nightwater.units import SECONDS_PER_HOUR

MEASURED_SHARE: Final = 0.15  # wear shows from some 10 % on, and pressure moves it too
LEAST_RATE_MM_H: Final = 2.0
MOST_RATE_MM_H: Final = 60.0


def without_station(linked: Linked) -> Iterator[Finding]:
    """Heads that no station fires."""
    for identity in linked.heads.index[linked.heads["station"].isna()]:
        yield warning(
            "head-without-station",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} belongs to no station, so no plan waters "
            "with it.",
            "Name its station, or put it on the station's list.",
        )


def area_doubts(linked: Linked) -> Iterator[Finding]:
    """Heads in no area, beside one, or declared to water ground that is not watered."""
    heads = linked.heads
    for identity, row in rows_where(heads, heads["how"].isin(["", "nearest"])):
        name = linked.name("heads", identity)
        if row["how"] == "nearest":
            yield note(
                "head-beside-area",
                f"heads:{identity}",
                f"Head {name} stands outside every watered area; {row['area']} is the nearest "
                "within its throw.",
                "Name its area on the head, or redraw the outline.",
            )
            continue
        yield warning(
            "head-in-no-area",
            f"heads:{identity}",
            f"Head {name} stands in no watered area, and none lies within its throw.",
            "Draw the area, correct the head's place, or name its area on the head.",
        )
    dry = heads["area"].notna() & ~heads["kind"].isin(WATERED_KINDS)
    for identity, row in rows_where(heads, dry):
        yield warning(
            "head-on-unwatered-ground",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} is declared to water {row['area']}, which is "
            f"{row['kind']} ground.",
            "Name an area of turf, or change the kind of that area.",
        )


def without_flow(linked: Linked) -> Iterator[Finding]:
    """Heads whose flow nobody can tell."""
    heads = linked.heads
    for identity, row in rows_where(heads, heads["flow_l_s"].isna()):
        lacks = "a nozzle without flow" if isinstance(row["nozzle"], str) else "no nozzle"
        yield error(
            "head-without-flow",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} has {lacks} and no measured flow.",
            "Enter its nozzle; until then its station cannot be planned.",
        )


def without_spacing(linked: Linked) -> Iterator[Finding]:
    """Heads whose share of the ground nobody can tell."""
    heads = linked.heads
    for identity in heads.index[heads["spacing_m"].isna() | heads["row_m"].isna()]:
        yield warning(
            "head-without-spacing",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} has no spacing or no row distance, so its "
            "rate is unknown.",
            "Enter the distance to the next head and between rows.",
        )


def rates_implausible(linked: Linked) -> Iterator[Finding]:
    """Heads whose flow over their share of the ground is no sprinkler's rate."""
    heads = linked.heads
    cell = heads["spacing_m"] * heads["row_m"] * heads["arc_deg"] / 360.0
    rate = heads["flow_l_s"] / cell * SECONDS_PER_HOUR
    rated = heads.assign(cell_m2=cell, rate_mm_h=rate)
    for identity, row in rows_where(rated, (rate < LEAST_RATE_MM_H) | (rate > MOST_RATE_MM_H)):
        yield warning(
            "rate-implausible",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} would water {row['rate_mm_h']:.1f} mm/h "
            f"({row['flow_l_s']:.2f} L/s on {row['cell_m2']:.0f} m²); "
            f"{LEAST_RATE_MM_H:g} to {MOST_RATE_MM_H:g} mm/h is usual.",
            "Check nozzle, arc and spacing, and the units they were read in.",
        )


def measured_flow_differs(linked: Linked) -> Iterator[Finding]:
    """Heads whose measured flow is far from their nozzle's."""
    heads = linked.ground.heads
    rated = linked.ground.nozzles["flow_l_s"].reindex(heads["nozzle"].to_numpy())
    flows = pd.DataFrame({"measured": heads["measured_flow_l_s"]}, index=heads.index)
    flows["rated"] = rated.to_numpy(dtype=float)
    flows["share"] = flows["measured"] / flows["rated"] - 1.0
    for identity, row in rows_where(flows, flows["share"].abs() > MEASURED_SHARE):
        yield warning(
            "measured-flow-differs",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} was measured at {row['measured']:.2f} L/s, "
            f"{row['share']:+.0%} against its nozzle's {row['rated']:.2f} L/s.",
            "Look for a worn or wrong nozzle; the measured flow counts meanwhile.",
        )


def arc_without_bearing(linked: Linked) -> Iterator[Finding]:
    """Part circles that nobody knows the direction of."""
    heads = linked.heads
    blind = (heads["arc_deg"] < 360) & heads["bearing_deg"].isna()
    for identity, row in rows_where(heads, blind):
        yield note(
            "arc-without-bearing",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} wets {row['arc_deg']:.0f}° "
            "but no bearing says which way.",
            "Enter the middle of its sector, clockwise from north.",
        )
