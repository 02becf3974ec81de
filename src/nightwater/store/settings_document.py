"""Settings as a JSON document and back."""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from dataclasses import asdict, fields, is_dataclass
from difflib import get_close_matches
from typing import Any

from nightwater.findings import UserError
from nightwater.ground.settings import Settings
from nightwater.units import UnitSystem


def settings_to_document(settings: Settings) -> dict[str, Any]:
    """Settings as nested plain values."""
    plain: dict[str, Any] = _plain(asdict(settings))
    return plain


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    return str(value) if isinstance(value, UnitSystem) else value


def settings_from_document(document: Mapping[str, Any]) -> Settings:
    """Settings out of nested plain values; what is not named keeps its default.

    Raises:
        UserError: an unknown name, with the nearest known one, or a value of the wrong kind.
    """
    settings: Settings = _built(Settings, document, "")
    return settings


def _unknown(name: str, known: list[str]) -> UserError:
    near = get_close_matches(name, known, 1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    return UserError(f"There is no setting '{name}'.{hint}")


def _built(cls: type[Any], document: Mapping[str, Any], path: str) -> Any:
    kinds = typing.get_type_hints(cls)
    known = [item.name for item in fields(cls)]
    for name in document:
        if name not in known:
            raise _unknown(path + name, [path + other for other in known])
    given = {name: _value(kinds[name], value, f"{path}{name}") for name, value in document.items()}
    try:
        return cls(**given)
    except TypeError:
        missing = [n for n in known if n not in given]
        raise UserError(f"The settings lack {path}{missing[0]}.") from None


def _value(kind: Any, value: Any, name: str) -> Any:
    if is_dataclass(kind):
        if not isinstance(value, Mapping):
            raise UserError(f"Setting {name} is a group of settings, not a single value.")
        return _built(typing.cast(type[Any], kind), value, f"{name}.")
    origin = typing.get_origin(kind)
    if origin is types.UnionType:
        kinds = [part for part in typing.get_args(kind) if part is not type(None)]
        return None if value is None else _value(kinds[0], value, name)
    if origin is tuple:
        return tuple(_value(typing.get_args(kind)[0], part, name) for part in _listed(value, name))
    if isinstance(origin, type) and issubclass(origin, Mapping):
        part_kind = typing.get_args(kind)[1]
        if not isinstance(value, Mapping):
            raise UserError(f'Setting {name} takes names with values, like {{"green": …}}.')
        return {key: _value(part_kind, part, f"{name}.{key}") for key, part in value.items()}
    return _scalar(kind, value, name)


def _listed(value: Any, name: str) -> list[Any]:
    if not isinstance(value, (list, tuple)):
        raise UserError(f'Setting {name} takes a list, like ["03:00", "05:00"].')
    return list(value)


def _scalar(kind: type[Any], value: Any, name: str) -> Any:
    if kind is UnitSystem:
        if value not in list(UnitSystem):
            raise UserError(f"Setting {name} is 'us' or 'metric', not '{value}'.")
        return UnitSystem(value)
    if kind is float and isinstance(value, (int, float)) and not isinstance(value, bool):
        return float(value)
    if kind is int and isinstance(value, int) and not isinstance(value, bool):
        return value
    if kind in (bool, str) and isinstance(value, kind):
        return value
    wanted = {float: "a number", int: "a whole number", bool: "true or false", str: "a text"}
    raise UserError(f"Setting {name} takes {wanted.get(kind, 'another kind')}, not '{value}'.")
