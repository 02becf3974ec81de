"""Arguments of an operation read from plain values, each by its kind."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, Final

from nightwater.findings import UserError

Reader = Callable[[str, Any], Any]
MOST_POINTS: Final = 20_000


def _refused(name: str, value: Any, wanted: str) -> UserError:
    return UserError(f"'{name}' is {value!r:.40}; {wanted} is wanted.")


def text(name: str, value: Any) -> str:
    """A text that can be written down.

    Raises:
        UserError: not a text, empty, or with characters that are none.
    """
    if not isinstance(value, str) or not value.strip():
        raise _refused(name, value, "a text")
    try:
        value.encode()
    except UnicodeEncodeError:
        raise UserError(f"'{name}' holds characters that are none.") from None
    if "\x00" in value:
        raise UserError(f"'{name}' holds characters that are none.")
    return value


def text_or_none(name: str, value: Any) -> str | None:
    """A text, or nothing."""
    return None if value is None else text(name, value)


def texts(name: str, value: Any) -> tuple[str, ...]:
    """A list of texts, each once.

    Raises:
        UserError: no list, or an entry that is no text.
    """
    if not isinstance(value, list):
        raise _refused(name, value, "a list of ids")
    return tuple(dict.fromkeys(text(name, entry) for entry in value))


def number(name: str, value: Any) -> float:
    """A finite number.

    Raises:
        UserError: anything else; a text that looks like one, too.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise _refused(name, value, "a number")
    try:
        found = float(value)
    except OverflowError:
        found = math.inf
    if not math.isfinite(found):
        raise _refused(name, value, "a finite number")
    return found


def number_or_none(name: str, value: Any) -> float | None:
    """A finite number, or nothing."""
    return None if value is None else number(name, value)


def _point(name: str, value: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise _refused(name, value, "a list of [x, y]")
    return number(name, value[0]), number(name, value[1])


def points(name: str, value: Any) -> tuple[tuple[float, float], ...]:
    """A list of [x, y] in metres.

    Raises:
        UserError: anything else, or more than 20,000 of them.
    """
    if not isinstance(value, list):
        raise _refused(name, value, "a list of [x, y]")
    if len(value) > MOST_POINTS:
        raise UserError(f"'{name}' has {len(value)} points; at most {MOST_POINTS} are taken.")
    return tuple(_point(name, entry) for entry in value)


def named_values(name: str, value: Any) -> dict[str, Any]:
    """Values by column; text is checked, the rest is left to the column.

    Raises:
        UserError: no set of named values, or a text that cannot be written down.
    """
    if not isinstance(value, Mapping):
        raise _refused(name, value, "a set of columns with values")
    return {
        str(key): text(str(key), entry) if isinstance(entry, str) and entry else entry
        for key, entry in value.items()
    }


def geometry(name: str, value: Any) -> dict[str, Any]:
    """A GeoJSON object, read further by its table.

    Raises:
        UserError: no set of named values.
    """
    if not isinstance(value, Mapping) or "type" not in value:
        raise _refused(name, value, "a GeoJSON geometry")
    return dict(value)


def geometry_or_none(name: str, value: Any) -> dict[str, Any] | None:
    """A GeoJSON object, or nothing."""
    return None if value is None else geometry(name, value)
