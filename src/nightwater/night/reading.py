"""Read a JSON document that a person may have written: every fault at once, none ignored."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from difflib import get_close_matches
from typing import Any, Final

from nightwater.findings import UserError

_MOST_FAULTS_TOLD: Final = 5


@dataclass
class DocumentReader:
    """Collects every fault of a document, so that a person mends all of them at once."""

    what: str
    faults: list[str] = field(default_factory=list)

    def mapping(
        self, value: Any, where: str, keys: Sequence[str], needed: Sequence[str]
    ) -> Mapping[str, Any] | None:
        """The object, or None where it is none or lacks a key; unknown keys are faults."""
        if not isinstance(value, Mapping):
            self.faults.append(f"{where} is not an object with the keys {', '.join(needed)}")
            return None
        unknown = [str(key) for key in value if key not in keys]
        for key in unknown:
            near = get_close_matches(key, keys, 1, 0.5)
            hint = f" (did you mean '{near[0]}'?)" if near else f" (known: {', '.join(keys)})"
            self.faults.append(f"{where} has an unknown key '{key}'{hint}")
        missing = [key for key in needed if key not in value]
        if missing:
            self.faults.append(f"{where} lacks {', '.join(repr(key) for key in missing)}")
        return None if missing else value

    def rows(
        self, document: Mapping[str, Any], name: str, keys: Sequence[str], needed: Sequence[str]
    ) -> list[tuple[str, Mapping[str, Any]]]:
        """The well-formed objects of a list with the words that say where each stands."""
        listed = document.get(name, [])
        if not isinstance(listed, list):
            self.faults.append(f"'{name}' is not a list")
            return []
        found = []
        for number, row in enumerate(listed, 1):
            where = f"{name}[{number}]"
            checked = self.mapping(row, where, keys, needed)
            if checked is not None:
                found.append((where, checked))
        return found

    def text(self, row: Mapping[str, Any], key: str, where: str) -> str:
        """A text; anything else is a fault."""
        value = row.get(key)
        if not isinstance(value, str):
            self.faults.append(f"{where} '{key}' is {value!r}, not a text")
            return ""
        return value

    def whole(self, row: Mapping[str, Any], key: str, where: str, default: int = 0) -> int:
        """A whole number; anything else is a fault."""
        value = row.get(key, default)
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if not is_number or not math.isfinite(value) or value != int(value):
            self.faults.append(f"{where} '{key}' is {value!r}, not a whole number of minutes")
            return default
        return int(value)

    def number(self, value: Any, where: str) -> float:
        """A number, NaN for null; anything else is a fault."""
        if value is None:
            return math.nan
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.faults.append(f"{where} is {value!r}, not a number")
            return math.nan
        return float(value)

    def instant(self, value: Any, where: str) -> datetime | None:
        """An instant with its offset; anything else is a fault."""
        try:
            parsed = datetime.fromisoformat(value)
        except (TypeError, ValueError):
            self.faults.append(f"{where} is {value!r}, not an instant like 2026-07-14T21:30-06:00")
            return None
        if parsed.tzinfo is None:
            self.faults.append(f"{where} {value!r} has no offset from UTC; write -06:00 behind it")
            return None
        return parsed

    def error(self) -> UserError:
        """One sentence that tells every fault, or the first few of many."""
        told = "; ".join(self.faults[:_MOST_FAULTS_TOLD])
        more = len(self.faults) - _MOST_FAULTS_TOLD
        rest = f"; and {more} more" if more > 0 else ""
        return UserError(f"This {self.what} cannot be read: {told}{rest}. Mend these.")
