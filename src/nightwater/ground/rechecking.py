"""Checks after an edit of heads: only the rules and the heads that it can matter to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.findings import Finding
from nightwater.ground.checks import RULES, Checked, Rule, check_whole, scope_of
from nightwater.ground.linked import Linked
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.order import places_of
from nightwater.ground.record import Ground
from nightwater.ground.scopes import Scope
from nightwater.ground.tables import GROUND_TABLES


def _differs(one: Any, other: Any) -> NDArray[np.bool_]:
    left, right = one.to_numpy(dtype=object), other.to_numpy(dtype=object)
    missing = pd.isna(left) & pd.isna(right)
    unlike = np.array([a != b for a, b in zip(left, right, strict=True)], dtype=bool)
    return np.asarray(unlike & ~missing)


def _places_differ(one: pd.DataFrame, other: pd.DataFrame) -> NDArray[np.bool_]:
    left, right = (np.asarray(rows.geometry, dtype=object) for rows in (one, other))
    missing = shapely.is_missing(left) & shapely.is_missing(right)
    return np.asarray(~missing & ~shapely.equals_exact(left, right, 0.0))


def _changed_heads(before: pd.DataFrame, after: pd.DataFrame) -> set[str]:
    """Ids of the heads that were added, removed, or have a value or a place of another kind."""
    both = after.index.intersection(before.index)
    one, other = before.loc[both], after.loc[both]
    differing = _places_differ(one, other)
    for column in one.columns.drop("geometry"):
        if not one[column].equals(other[column]):
            differing |= _differs(one[column], other[column])
    return {str(i) for i in (*both[differing], *before.index.symmetric_difference(after.index))}


def _beside_heads_alike(before: Ground, after: Ground) -> bool:
    tables = (name for name in GROUND_TABLES if name != "heads")
    return before.crs == after.crs and all(
        before.table(name) is after.table(name) or before.table(name).equals(after.table(name))
        for name in tables
    )


def _patched(before: Linked, after: Ground, changed: Iterable[str]) -> Linked:
    """The links after an edit of heads: only those of the changed heads are worked out."""
    ids = after.heads.index
    fresh = Linked(replace(after, heads=after.heads[ids.isin(list(changed))])).heads
    kept = before.heads[before.heads.index.isin(ids.difference(fresh.index))]
    heads = pd.concat([part for part in (kept, fresh) if len(part)]).reindex(ids)
    return Linked(after, before.number_rules, heads, before.area_holes)


def _groups(linked: Linked) -> pd.DataFrame:
    """What each head stands together with: its place and its station; index = head id."""
    heads = linked.heads
    played = heads[["area", "kind"]].assign(
        hole=linked.area_holes.reindex(heads["area"].to_numpy()).to_numpy()
    )
    places = places_of(played, linked.ground, linked.number_rules)
    return pd.DataFrame({"place": places, "station": heads["station"]}, index=heads.index)


def _together(groups: Iterable[pd.DataFrame], changed: set[str]) -> set[str]:
    """The changed heads and all that share a place or a station with one of these, and so on.

    Both the links before the edit and those after it count.
    """
    both = pd.concat(list(groups))
    touched = np.asarray(both.index.isin(list(changed)))
    count = -1
    while count != (count := int(touched.sum())):
        for column in ("place", "station"):
            touched |= both[column].isin(both[column][touched].dropna()).to_numpy()
        touched = np.asarray(both.index.isin(both.index[touched]))
    return {str(identity) for identity in both.index[touched]}


def _subjects(links: Iterable[Linked], ids: set[str]) -> set[str]:
    """Heads, their stations and their areas, as findings name them."""
    found = {f"heads:{identity}" for identity in ids}
    for linked in links:
        heads = linked.heads[linked.heads.index.isin(list(ids))]
        found |= {f"stations:{station}" for station in heads["station"].dropna()}
        found |= {f"areas:{area}" for area in heads["area"].dropna()}
    return found


def _asked_again(
    rule: Rule, before: Checked, near: Linked, subjects: set[str]
) -> tuple[Finding, ...]:
    """What a rule found away from an edit, and what it finds near it now."""
    away = (f for f in before.by_rule[rule.CODE] if f.subject not in subjects)
    return (*away, *(f for f in rule.find(near) if f.subject in subjects))


def recheck(before: Checked, after: Ground, number_rules: NumberRules) -> Checked:
    """The same findings as `check_whole(after)`, asking only what an edit can have changed.

    Where only heads differ, a rule that does not look at heads keeps what it found, one that
    looks no farther than a place (`Scope.PLACE`) is asked of the places that the edit touches,
    and every other rule of the whole record. Any other edit is checked whole.

    Args:
        before: the record before the edit, checked.
        after: the record after it, with heads and station list reconciled.
        number_rules: how the club numbers heads and stations.

    Returns:
        Findings by rule; within a rule those near the edit come last.
    """
    ground, linked = before.linked.ground, before.linked
    unique = before.whole and after.heads.index.is_unique and len(after.heads) and len(ground.heads)
    if not unique or number_rules != linked.number_rules or not _beside_heads_alike(ground, after):
        return check_whole(after, number_rules)
    changed = _changed_heads(ground.heads, after.heads)
    if not changed:
        return Checked(replace(linked, ground=after), before.by_rule)
    whole = _patched(linked, after, changed)
    ids = _together([_groups(linked), _groups(whole)], changed)
    subjects = _subjects([linked, whole], ids)
    mine = after.heads.index.isin(list(ids))
    near = Linked(
        replace(after, heads=after.heads[mine]), number_rules, whole.heads[mine], whole.area_holes
    )
    found: dict[str, tuple[Finding, ...]] = {}
    for rule in RULES:
        scope = scope_of(rule)
        if scope is Scope.BESIDE_HEADS:
            found[rule.CODE] = before.by_rule[rule.CODE]
        elif scope is Scope.PLACE:
            found[rule.CODE] = _asked_again(rule, before, near, subjects)
        else:
            found[rule.CODE] = tuple(rule.find(whole))
    return Checked(whole, found)
