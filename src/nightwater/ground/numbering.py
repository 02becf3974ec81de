"""Labels of heads and stations in the trade's order, and what they would change."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import pandas as pd

from nightwater.findings import Finding, UserError, note, warning
from nightwater.ground.edits.lists import named_by_id
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.order import head_order
from nightwater.ground.record import Ground

COLUMNS: Final = ("table", "id", "place", "kind", "number", "label_now", "label_proposed")
LABELLED: Final = ("heads", "stations")


def _head_labels(order: pd.DataFrame, rules: NumberRules) -> pd.DataFrame:
    numbered = zip(order["place"], order["letter"], order["number"], strict=True)
    labels = [rules.label(place, letter, int(number)) for place, letter, number in numbered]
    rows = order[["place", "kind", "number"]].assign(table="heads", label_proposed=labels)
    return rows.rename_axis("id").reset_index()


def _first_heads(ground: Ground, order: pd.DataFrame) -> pd.DataFrame:
    """The first head of each station in the trade's order; index = station id, in that order."""
    station = ground.heads["station"].reindex(order.index)
    known = station.isin(ground.stations.index).to_numpy()
    driven: pd.DataFrame = order.assign(station=station).loc[known]
    return driven.drop_duplicates("station").set_index("station")


def _station_labels(ground: Ground, order: pd.DataFrame, rules: NumberRules) -> pd.DataFrame:
    """A station is called by its first head's number, or counted by itself."""
    first = _first_heads(ground, order)
    rule = [rules.rule(str(a), str(k)) for a, k in zip(first["area"], first["kind"], strict=True)]
    counted = first.groupby(["place", "letter"], sort=False).cumcount()
    own = pd.Series([r.station_number == "own_order" for r in rule], first.index, dtype=bool)
    start = pd.Series([r.start for r in rule], first.index, dtype="int64")
    first = first.assign(number=first["number"].where(~own, counted + start))
    rows = _head_labels(first, rules)
    return rows.assign(table="stations")


def propose_numbers(
    ground: Ground, rules: NumberRules, holes: pd.Series[Any] | None = None
) -> pd.DataFrame:
    """Labels of every head and station by the rules, beside those they bear now.

    A station without heads, and a head without a place or an area, is left out.
    `holes` is the hole of each area, where it is known already.

    Returns:
        One row a head or station, heads first, in the trade's order: table, id, place
        (what stands for the hole), kind (of the area), number, label_now (None where it
        bears none), label_proposed, changes (whether the two differ).
    """
    order = head_order(ground, rules, holes)
    parts = [_head_labels(order, rules), _station_labels(ground, order, rules)]
    for part, table in zip(parts, LABELLED, strict=True):
        now = ground.table(table)["label"].reindex(part["id"].to_numpy())
        part["label_now"] = [label if isinstance(label, str) else None for label in now]
    rows = pd.concat(parts, ignore_index=True)[list(COLUMNS)]
    return rows.assign(changes=(rows["label_now"] != rows["label_proposed"]).astype(bool))


def renumber(ground: Ground, proposal: pd.DataFrame) -> Ground:
    """The ground with the proposed labels; ids and everything else stay as they are.

    Lists and links that named rows by label name them by id from then on.

    Args:
        ground: the record.
        proposal: rows of `propose_numbers`, all or some of them.

    Raises:
        UserError: a row names a head or station that the record does not have.
    """
    ground = named_by_id(ground)
    for table in LABELLED:
        rows = ground.table(table)
        labels = proposal[proposal["table"] == table].set_index("id")["label_proposed"]
        lost = sorted(str(row) for row in labels.index.difference(rows.index))
        if lost:
            raise UserError(
                f"The proposed numbers name {', '.join(lost[:5])}, which is not in {table}. "
                "The record has changed: propose them again."
            )
        changed = rows.copy()
        changed.loc[labels.index, "label"] = labels
        ground = ground.with_table(table, changed)
    return ground


def _shared(labels: pd.Series[Any]) -> Iterator[tuple[str, list[str]]]:
    sound = labels[labels.notna()]
    for label, rows in sound[sound.duplicated(keep=False)].groupby(sound, sort=True):
        yield str(label), [str(identity) for identity in rows.index]


def number_findings(ground: Ground, proposal: pd.DataFrame) -> list[Finding]:
    """What stands in the way of a proposal: labels that two would bear, heads without a number.

    Labels that stay, because their rows are not in the proposal, count as well.
    """
    found, after = [], renumber(ground, proposal)
    for table in LABELLED:
        for label, rows in _shared(after.table(table)["label"]):
            found.append(
                warning(
                    "number-taken-twice",
                    f"{table}:{rows[1]}",
                    f"{len(rows)} {table} would be called {label}: {', '.join(rows[:4])}.",
                    "Give their areas a place of their own in the rules, or leave one as it is.",
                )
            )
    counted = proposal.loc[proposal["table"] == "heads", "id"]
    found += [
        note(
            "head-without-number",
            f"heads:{identity}",
            f"Head {identity} gets no number: it stands nowhere, or waters no area.",
            "Place it on the map, or say which area it waters.",
        )
        for identity in ground.heads.index.difference(counted)
    ]
    return found
