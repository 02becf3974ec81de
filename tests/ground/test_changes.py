"""Changes to the record as values."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point

from nightwater.ground.changes import Changes, RowChange, completed, plain_rows, plain_value
from nightwater.ground.columns import Kind
from nightwater.ground.record import conform
from nightwater.ground.tables import TABLES

ADDED = RowChange("heads", "H1", None, {"arc_deg": 90.0})
CHANGED = RowChange(
    "heads", "H2", {"arc_deg": 90.0, "label": "a"}, {"arc_deg": 180.0, "label": "a"}
)
REMOVED = RowChange("areas", "A1", {"kind": "tee"}, None)


def test_changes_count_themselves_in_words() -> None:
    changes = Changes((ADDED, CHANGED, REMOVED))
    assert changes.in_words() == "heads: 1 added, 1 changed; areas: 1 removed"
    assert Changes((ADDED,), "the new tee").in_words() == "the new tee"
    assert Changes(()).in_words() == "nothing"


def test_no_changes_are_false() -> None:
    assert not Changes(())
    assert len(Changes((ADDED, CHANGED))) == 2


def test_what_differs_column_by_column() -> None:
    assert CHANGED.columns == {"arc_deg": (90.0, 180.0)}
    assert ADDED.columns == {"arc_deg": (None, 90.0)}
    assert REMOVED.columns == {"kind": ("tee", None)}


def test_reversing_twice_is_nothing() -> None:
    changes = Changes((ADDED, CHANGED, REMOVED))
    assert changes.reversed.rows[0] == RowChange("areas", "A1", None, {"kind": "tee"})
    assert changes.reversed.reversed.rows == changes.rows


@pytest.mark.parametrize(
    ("value", "kind", "expected"),
    [
        (np.float64(1.5), Kind.NUMBER, 1.5),
        (3, Kind.NUMBER, 3.0),
        (np.int64(3), Kind.INTEGER, 3),
        (3.0, Kind.INTEGER, 3),
        (np.bool_(True), Kind.YES_NO, True),
        (7, Kind.TEXT, "7"),
        (float("nan"), Kind.NUMBER, None),
        (float("nan"), Kind.TEXT, None),
        (pd.NA, Kind.INTEGER, None),
        (pd.NaT, Kind.INSTANT, None),
        (None, Kind.YES_NO, None),
        (date(2026, 7, 14), Kind.DATE, "2026-07-14"),
        (pd.Timestamp("2026-07-14T23:00:00Z"), Kind.DATE, "2026-07-14"),
        (datetime(2026, 7, 14, 21, tzinfo=UTC), Kind.INSTANT, "2026-07-14T21:00:00Z"),
        (
            datetime(2026, 7, 14, 21, tzinfo=timezone(timedelta(hours=-6))),
            Kind.INSTANT,
            "2026-07-15T03:00:00Z",
        ),
    ],
)
def test_cells_become_plain(value: object, kind: Kind, expected: object) -> None:
    plain = plain_value(value, kind)
    assert plain == expected
    assert type(plain) is type(expected)


@pytest.mark.parametrize(
    ("value", "kind"),
    [("wide", Kind.NUMBER), (2.5, Kind.INTEGER), (datetime(2026, 7, 14), Kind.INSTANT)],
)
def test_cells_of_another_kind_are_refused(value: object, kind: Kind) -> None:
    with pytest.raises((ValueError, TypeError)):
        plain_value(value, kind)


def test_rows_of_a_table_become_plain_and_complete() -> None:
    table = TABLES["valves"]
    frame = pd.DataFrame({"kind": ["air"], "open": [True], "geometry": [Point(1, 2)]}, index=["V1"])
    rows = plain_rows(conform(frame, table, "EPSG:32612"), table)
    assert rows == {
        "V1": {
            "label": None,
            "kind": "air",
            "setting_kpa": None,
            "open": True,
            "evidence": None,
            "geometry": Point(1, 2),
        }
    }
    assert plain_rows(conform(frame.iloc[:0], table, "EPSG:32612"), table) == {}


def test_a_partial_change_keeps_what_it_does_not_name() -> None:
    table = TABLES["controllers"]
    before = {"label": "Path 1", "max_heads_on": 12.0}
    whole = completed(RowChange("controllers", "C1", before, {"location": "barn"}), table)
    assert whole.before == {
        "label": "Path 1",
        "max_heads_on": 12,
        "location": None,
        "evidence": None,
    }
    assert whole.after == {**whole.before, "location": "barn"}
    new = completed(RowChange("controllers", "C2", None, {"label": "x", "colour": 1}), table)
    assert new.before is None
    assert new.after is not None
    assert new.after["colour"] == 1  # left for `row_faults` to refuse


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_numbers_pass_unchanged_and_nan_is_nothing(number: float) -> None:
    plain = plain_value(number, Kind.NUMBER)
    assert plain is None if np.isnan(number) else plain == number
