"""Show and change what a course chooses."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from nightwater.desk.course import Course
from nightwater.desk.documents import read_document
from nightwater.desk.setting_words import setting_words
from nightwater.findings import UserError
from nightwater.ground.settings import SECTIONS, Settings
from nightwater.store.settings_document import settings_from_document, settings_to_document


def _flat(document: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for key, value in document.items():
        if isinstance(value, dict) and key in SECTIONS:
            flat |= _flat(value, f"{key}.")
        else:
            flat[prefix + key] = value
    return flat


def settings_rows(settings: Settings) -> list[dict[str, Any]]:
    """Every setting: name, value and default (JSON), unit, may_be, meaning."""
    flat = _flat(settings_to_document(settings))
    return [
        {"name": one.name, "value": json.dumps(flat[one.name], ensure_ascii=False)}
        | {key: getattr(one, key) for key in ("default", "unit", "may_be", "meaning")}
        for one in setting_words()
    ]


def _parsed(text: str) -> Any:
    if text.startswith("@"):
        return read_document(Path(text[1:]))
    try:
        return json.loads(text)
    except ValueError:
        return text


def changed_document(document: dict[str, Any], given: Mapping[str, str]) -> dict[str, Any]:
    """A settings document with some values exchanged.

    Raises:
        UserError: a name that does not exist, with the nearest one that does.
    """
    known = _flat(document)
    changed: dict[str, Any] = json.loads(json.dumps(document))
    for name, text in given.items():
        if name not in known:
            near = get_close_matches(name, known, 1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            raise UserError(f"There is no setting '{name}'.{hint}")
        *path, last = name.split(".")
        target = changed
        for part in path:
            target = target[part]
        target[last] = _parsed(text)
    return changed


def change_settings(
    course: Course, given: Mapping[str, str], who: str, why: str, now: datetime
) -> Settings:
    """Change settings by name, as a revision.

    Raises:
        UserError: unknown name, or a value the setting cannot take; nothing is saved.
    """
    document = changed_document(settings_to_document(course.settings), given)
    settings = settings_from_document(document)
    course.file.save_settings(settings, who, why, now)
    return settings
