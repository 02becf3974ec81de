"""How the invented club counts its heads and stations, as data."""

from __future__ import annotations

from typing import Any, Final

CLUB_NUMBERS: Final[dict[str, Any]] = {
    "kinds": {
        "approach": {"around_green": "first"},
        "practice": {"scheme": "columns"},
        "grounds": {
            "letter": "Z",
            "per_area": 10,
            "bearing_deg": 0.0,
            "station_number": "own_order",
        },
    },
    "areas": {"short-game": {"letter": "P", "scheme": "rows"}},
    "places": {
        "practice": "P",
        "grounds": "C",
        "P1-green": "P1",
        "P1-approach": "P1",
        "P2-green": "P2",
        "P2-approach": "P2",
    },
}
CLUB_PAIRS: Final[dict[str, Any]] = {"kinds": {"fairway": "single"}}
