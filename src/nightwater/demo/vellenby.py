"""Vellenby Golf Club, wholly invented: its settings, and its survey files."""

from __future__ import annotations

from typing import Final

from nightwater.demo.files import Survey as Survey
from nightwater.demo.files import SurveyFile as SurveyFile
from nightwater.demo.files import write_survey as write_survey
from nightwater.demo.numbering import CLUB_NUMBERS, CLUB_PAIRS
from nightwater.demo.place import CRS, LATITUDE_DEG, LONGITUDE_DEG, STATION_ELEVATION_M
from nightwater.ground.settings import (
    MoneyRules,
    NeedRules,
    NightRules,
    RecordRules,
    Settings,
    Site,
)
from nightwater.units import UnitSystem

KC_COOL_SEASON: Final = (0.60, 0.60, 0.70, 0.80, 0.90, 0.95, 0.95, 0.90, 0.80, 0.70, 0.60, 0.60)

SETTINGS: Final = Settings(
    site=Site(
        name="Vellenby Golf Club (INVENTED)",
        latitude_deg=LATITUDE_DEG,
        longitude_deg=LONGITUDE_DEG,
        elevation_m=STATION_ELEVATION_M,
        timezone="America/Denver",
        crs=CRS,
        invented=True,
        units=UnitSystem.US,
    ),
    record=RecordRules(numbers=CLUB_NUMBERS, pairs=CLUB_PAIRS),
    need=NeedRules(
        account_start="2025-07-09",
        opening_depletion_mm=0.0,
        kc_by_month={"cool_season": KC_COOL_SEASON},
    ),
    night=NightRules(
        start="21:00",
        end="05:00",
        kind_windows={"green": ("03:00", "")},
        pump_use=0.85,
        loop_margin=0.9,
    ),
    money=MoneyRules(currency="$", energy_per_kwh=0.072, water_per_m3=0.0778),
    first_tee="06:30",
)
