"""From bare heads and a station list to one answer: group, count, match."""

from __future__ import annotations

import pandas as pd

from nightwater.ground.list_grouping import pair_rules_of_list, split_by_list
from nightwater.ground.list_rows import list_rows
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.order import head_order
from nightwater.ground.pair_rules import PairRules
from nightwater.ground.pairing import propose_stations
from nightwater.ground.reconcile import MatchCosts, Reconciliation, reconcile
from nightwater.ground.record import Ground


def reconciled(
    ground: Ground,
    rules: NumberRules,
    flow_l_s: pd.Series[float],
    pairs: PairRules | None = None,
    costs: MatchCosts | None = None,
) -> Reconciliation:
    """Stations proposed for heads that have none, against the station list.

    The list itself says how its kinds are grouped (`list_grouping`); the ground says which
    heads then belong together; one matching of all says which row is whose.

    Args:
        ground: the record; heads that name a station already are left as they are.
        rules: how the club counts and writes labels.
        flow_l_s: flow of each head, by id.
        pairs: how heads are grouped where the list does not tell.
        costs: what each disagreement costs.
    """
    order, listed = head_order(ground, rules), list_rows(ground.stations, rules)
    proposal = propose_stations(ground, pair_rules_of_list(order, listed, pairs), rules)
    proposal = split_by_list(proposal, order, listed, flow_l_s)
    return reconcile(ground, proposal, rules, costs)
