"""The trade's order of heads: tee to green, odd left and even right, greens clockwise."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.along import head_play
from nightwater.ground.number_rules import KindRule, NumberRules
from nightwater.ground.record import Ground
from nightwater.ground.schemes import Sight, behind, numbered
from nightwater.ground.tables import WATERED_KINDS

_WIDEST_PLACE: Final = 9  # so that hole 2 comes before hole 10


def places_of(play: pd.DataFrame, ground: Ground, rules: NumberRules) -> list[str]:
    """What stands for the hole: the area's place, its hole's number, its kind's place.

    Args:
        play: columns area, hole and kind, as `along.head_play` has them.
        ground: the record.
        rules: the club's rules.

    Returns:
        One place a row.
    """
    numbers = ground.holes["number"]
    named = {str(h): str(h) if pd.isna(n) else str(int(n)) for h, n in numbers.items()}
    found = []
    for area, hole, kind in zip(play["area"], play["hole"], play["kind"], strict=True):
        usual = rules.places.get(str(kind), str(area))
        found.append(
            rules.places.get(str(area), usual if pd.isna(hole) else named.get(hole, str(hole)))
        )
    return found


def _groups(sound: pd.DataFrame, rules: NumberRules) -> Iterator[tuple[KindRule, pd.DataFrame]]:
    """Heads that are counted together: one place, and one rule."""
    alone = sound["area"].where(sound["area"].isin(list(rules.areas)), "")
    for _, heads in sound.groupby(["place", "kind", alone], sort=False):
        yield rules.rule(str(heads["area"].iloc[0]), str(heads["kind"].iloc[0])), heads


def _after_fairway(rows: pd.DataFrame, rules: NumberRules) -> pd.DataFrame:
    """Approach heads under the fairway's letter, numbered behind its last head."""
    rule = rules.rule(None, "approach")
    last = rows[rows["kind"] == "fairway"].groupby("place")["number"].max()
    late = ((rows["kind"] == "approach") & rows["place"].isin(last.index)).to_numpy()
    shift = [behind(int(last[place]), rule) for place in rows["place"][late]]
    moved = rows.copy()
    moved.loc[late, "number"] += shift
    moved.loc[late, "letter"] = rules.rule(None, "fairway").letter
    return moved


def _counted_on(parts: list[tuple[KindRule, pd.DataFrame]]) -> pd.DataFrame:
    """All groups; one that shares place and letter with an earlier one counts on behind it."""
    last: dict[tuple[str, str], int] = {}
    moved = []
    for rule, rows in parts:
        key = str(rows["place"].iloc[0]), rule.letter
        shift = behind(last[key], rule) if key in last else 0
        moved.append(rows.assign(number=rows["number"] + shift))
        last[key] = int(moved[-1]["number"].max())
    return pd.concat(moved)


def head_order(
    ground: Ground, rules: NumberRules, holes: pd.Series[Any] | None = None
) -> pd.DataFrame:
    """The heads in the order in which the rules count them.

    Args:
        ground: the record; arcs and bearings tell which area a head waters.
        rules: the club's rules.
        holes: hole of each area, where it is known already.

    Returns:
        Index head id, sorted by place, kind and number; the columns of `along.head_play`,
        and place (what stands for the hole), letter, number, and side ("left", "right",
        "centre", or "" without a line). Heads without a place, or of no watered area, are left out.
    """
    play = head_play(ground, holes)
    play["place"] = places_of(play, ground, rules)
    sound = play[play["kind"].isin(WATERED_KINDS) & play["x"].notna()]
    if sound.empty:
        return sound.assign(letter="", number=0, side="")
    sight, parts = Sight(ground, rules), []
    for rule, heads in _groups(sound, rules):
        order, number = numbered(heads, rule, sight)
        parts.append((rule, heads.iloc[order].assign(letter=rule.letter, number=number)))
    rows = _counted_on(parts)
    if rules.approach == "after_fairway":
        rows = _after_fairway(rows, rules)
    rows["side"] = _sides(rows, rules)
    played = [place.zfill(_WIDEST_PLACE) if place.isdigit() else place for place in rows["place"]]
    rows = rows.assign(played=played).sort_values(["played", "letter", "number"], kind="stable")
    return rows.drop(columns="played")


def _sides(rows: pd.DataFrame, rules: NumberRules) -> NDArray[np.object_]:
    aside = rows["offset_m"].to_numpy(dtype=float)
    known = [np.isnan(aside), np.abs(aside) <= rules.centre_m, aside < 0]
    return np.select(known, ["", "centre", "left"], "right").astype(object)
