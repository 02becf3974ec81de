"""`nightwater fixes`: repairs and dry spots as tables and as CSV."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest

from nightwater.cli.fixes_commands import FIX_COLUMNS, SPOT_COLUMNS


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))
