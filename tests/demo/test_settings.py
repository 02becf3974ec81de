from __future__ import annotations

from datetime import date

from nightwater.demo.vellenby import KC_COOL_SEASON, SETTINGS
from nightwater.night.window import night_window
from nightwater.units import UnitSystem


def test_the_club_says_that_it_is_invented():
    assert SETTINGS.site.invented
    assert "INVENTED" in SETTINGS.site.name
    assert SETTINGS.site.units is UnitSystem.US


def test_the_night_is_eight_hours():
    window = night_window(date(2025, 7, 10), SETTINGS.site, SETTINGS.night)
    assert window.minutes == 480
    assert window.start.isoformat() == "2025-07-10T21:00:00-06:00"


def test_greens_have_the_last_two_hours():
    assert SETTINGS.night.kind_windows == {"green": ("03:00", "")}


def test_account_opens_on_the_morning_before_the_first_night():
    assert SETTINGS.need.account_start == "2025-07-09"
    assert SETTINGS.need.opening_depletion_mm == 0.0


def test_monthly_coefficients_are_the_stated_ones():
    assert KC_COOL_SEASON[3:10] == (0.80, 0.90, 0.95, 0.95, 0.90, 0.80, 0.70)
    assert len(KC_COOL_SEASON) == 12
    assert SETTINGS.need.kc_by_month["cool_season"] == KC_COOL_SEASON
