"""Every setting explained, out of its one declaration in `ground/settings.py`."""

from __future__ import annotations

import json
import re
from dataclasses import MISSING, Field, dataclass, fields
from typing import Any, Final

from nightwater.ground.settings import SECTIONS, Settings, range_of
from nightwater.store.settings_checks import CHOICES
from nightwater.store.settings_document import plain_value

_TOP: Final = {"first_tee": "Local clock time of the first tee, for the rescue list."}


@dataclass(frozen=True)
class SettingWords:
    """What a person has to know of a setting.

    Attributes:
        name: section and field, "night.pump_use".
        meaning: out of the section's docstring.
        unit: of a number; else "".
        may_be: its range or the words it is one of; "" where its own reader checks it.
        default: as JSON; "" where every course must say it.
    """

    name: str
    meaning: str
    unit: str
    may_be: str
    default: str


def attribute_words(cls: type) -> dict[str, str]:
    """The meaning of each field, out of the class's own docstring."""
    text = (cls.__doc__ or "").partition("Attributes:")[2]
    words: dict[str, str] = {}
    for names, meaning in re.findall(
        r"^ {8}([a-z_, 0-9]+): ((?:.|\n)*?)(?=^ {8}[a-z_]|\Z)", text, re.M
    ):
        for name in names.split(","):
            words[name.strip()] = " ".join(meaning.split())
    return words


def _default(declared: Field[Any]) -> str:
    if declared.default is not MISSING:
        return json.dumps(plain_value(declared.default))
    if declared.default_factory is not MISSING:
        return json.dumps(plain_value(declared.default_factory()))
    return ""


def _words(name: str, declared: Field[Any], meaning: str) -> SettingWords:
    limits = range_of(declared)
    may_be = ", ".join(CHOICES.get(name, ()))
    if limits is not None:
        may_be = f"{limits.least:g} to {limits.most:g}"
    elif str(declared.type) == "bool":
        may_be = "true, false"
    return SettingWords(name, meaning, limits.unit if limits else "", may_be, _default(declared))


def setting_words() -> list[SettingWords]:
    """Every setting, in the order of its declaration; those of no section first."""
    top = [_words(one.name, one, _TOP[one.name]) for one in fields(Settings) if one.name in _TOP]
    found = []
    for section, cls in SECTIONS.items():
        words = attribute_words(cls)
        found += [
            _words(f"{section}.{one.name}", one, words.get(one.name, "")) for one in fields(cls)
        ]
    return [*top, *found]
