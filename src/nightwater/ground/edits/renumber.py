"""Renumber one hole by the club's rules."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from nightwater.findings import UserError
from nightwater.ground.edits.rows import listed, nearest
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.numbering import LABELLED, propose_numbers
from nightwater.ground.numbering import renumber as with_numbers
from nightwater.ground.record import Ground
from nightwater.ground.station_lists import resolve_station_lists


def _check_unshared(ground: Ground, changed: pd.DataFrame) -> None:
    """Refuse a new label that another row bears too."""
    for table in LABELLED:
        labels: pd.Series[Any] = ground.table(table)["label"].dropna()
        new = changed.loc[changed["table"] == table, "label_proposed"]
        shared = labels[labels.isin(new) & labels.duplicated(keep=False)]
        if len(shared):
            raise UserError(
                f"{listed(shared.index)} of {table} would all be called {shared.iloc[0]}. "
                "Give their areas a place of their own in the numbering rules, or rename one first."
            )


def _only(
    place: pd.DataFrame, hole: str, named: Mapping[str, Sequence[str] | None]
) -> pd.DataFrame:
    """The rows of a hole that are named; all where nothing is."""
    if all(ids is None for ids in named.values()):
        return place
    kept = []
    for table, ids in named.items():
        rows = place[place["table"] == table]
        lost = [identity for identity in ids or () if identity not in set(rows["id"])]
        if lost:
            raise UserError(
                f"{listed(lost)} of {table} cannot be renumbered: not counted on hole '{hole}'."
            )
        kept.append(rows[rows["id"].isin(list(ids or ()))])
    return pd.concat(kept)


def renumber(
    ground: Ground,
    rules: NumberRules,
    hole: str,
    heads: Sequence[str] | None = None,
    stations: Sequence[str] | None = None,
) -> Ground:
    """The ground with heads and stations of one hole labelled in the club's order; ids stay.

    Every head of the hole is counted, also where only some are given their label.
    Lists and links that named rows by label name them by id from then on.

    Args:
        ground: the record.
        rules: how the club counts.
        hole: number of the hole, or what the rules put in its place.
        heads, stations: ids of those that get their label; all of the hole where both are None.

    Raises:
        UserError: nothing is counted there, a row is not counted there, or two rows would
            bear one label.
    """
    proposed = propose_numbers(resolve_station_lists(ground)[0], rules)
    wanted = proposed[proposed["place"] == hole]
    if wanted.empty:
        known = dict.fromkeys(map(str, proposed["place"]))
        raise UserError(f"No head is counted on hole '{hole}'.{nearest(hole, known)}")
    wanted = _only(wanted, hole, {"heads": heads, "stations": stations})
    wanted = wanted[wanted["changes"]]
    renumbered = with_numbers(ground, wanted)
    _check_unshared(renumbered, wanted)
    return renumbered
