"""Proposals and reconciliation on the invented club: what is found, and how long it takes.

Time is told as a ratio to one read of the same survey files, which a person waits for anyway.
"""

from __future__ import annotations

import tempfile
import time
from collections import Counter
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd

from nightwater.demo.numbering import CLUB_NUMBERS, CLUB_PAIRS
from nightwater.demo.vellenby import SETTINGS, write_survey
from nightwater.ground.links import resolve_station_lists, station_heads
from nightwater.ground.list_doubts import list_doubts
from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.ground.number_rules import number_rules_from
from nightwater.ground.pair_rules import pair_rules_from
from nightwater.ground.pairing import propose_stations
from nightwater.ground.reconciling import reconciled
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.read import read_table

SWAPS, COUNTS, MISSING = 9, 6, 4
SEEDS = range(5)


def club() -> tuple[Ground, float]:
    """The club read from its survey files, and the time that took [s]."""
    with tempfile.TemporaryDirectory() as folder:
        survey = write_survey(Path(folder) / "survey")
        start = time.perf_counter()
        crs = SETTINGS.site.crs
        read = {f.table: read_table(f.path, TABLES[f.table], crs, f.options) for f in survey.files}
        ground = ground_from(crs, {name: rows.rows for name, rows in read.items()})
        return resolve_station_lists(ground)[0], time.perf_counter() - start


def planted(stations: pd.DataFrame, seed: int) -> tuple[pd.DataFrame, dict[str, set[str]]]:
    """A list with exchanged neighbours, wrong counts and missing rows, and where they are."""
    chance, rows = np.random.default_rng(seed), stations.copy()
    stem = stations["label"].str.rsplit("-", n=1).str[0]
    order = stations.assign(stem=stem).sort_values("label").index.tolist()
    pairs = [(a, b) for a, b in pairwise(order) if stem[a] == stem[b]]
    free, faults = set(stations.index), {"swapped": set(), "count": set(), "missing": set()}
    for place in chance.permutation(len(pairs)):
        one, other = pairs[place]
        if {one, other} <= free and len(faults["swapped"]) < 2 * SWAPS:
            rows.loc[[one, other], "label"] = rows.loc[[other, one], "label"].to_numpy()
            faults["swapped"] |= {one, other}
            free -= {one, other}
    for name, count in (("count", COUNTS), ("missing", MISSING)):
        faults[name] = set(chance.choice(sorted(free), count, replace=False).tolist())
        free -= faults[name]
    rows.loc[sorted(faults["count"]), "heads_listed"] += 1
    return rows.drop(index=sorted(faults["missing"])), faults


def main() -> None:
    """Print what proposals find again, the confusion table, and times as ratios."""
    ground, read_s = club()
    numbers, flow = number_rules_from(CLUB_NUMBERS), head_flow_l_s(ground.heads, ground.nozzles)
    bare = ground.with_table("heads", ground.heads.assign(station=None, label=None))
    truth = station_heads(ground)
    start = time.perf_counter()
    rows = propose_stations(bare, pair_rules_from(CLUB_PAIRS), numbers).rows
    pair_s = time.perf_counter() - start
    same = {frozenset(heads) for heads in rows["heads"]} & {frozenset(heads) for heads in truth}
    print(f"stations found without the list   {len(same)} of {len(truth)}")
    start = time.perf_counter()
    clean = reconciled(bare, numbers, flow)
    match_s = time.perf_counter() - start
    matched = zip(clean.rows["station"], clean.rows["heads"], strict=True)
    right = sum(set(heads) == set(truth[station]) for station, heads in matched if station)
    print(f"rows matched on a clean list      {right} of {len(truth)}")
    print(f"alarms on a clean list            {len(list_doubts(clean))}")
    codes: Counter[str] = Counter()
    for seed in SEEDS:
        stations, _ = planted(ground.stations, seed)
        codes.update(
            doubt.code
            for doubt in list_doubts(
                reconciled(bare.with_table("stations", stations), numbers, flow)
            )
        )
    print(f"planted in each of {len(SEEDS)}: {SWAPS} exchanged, {COUNTS} counts, {MISSING} gone")
    for code, count in codes.most_common():
        print(f"  {code:28} {count}")
    print(f"time of proposing / reading       {pair_s / read_s:.2f}   ({pair_s:.2f} s)")
    print(f"time of reconciling / reading     {match_s / read_s:.2f}   ({match_s:.2f} s)")


if __name__ == "__main__":
    main()
