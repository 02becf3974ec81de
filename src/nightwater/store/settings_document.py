"""Settings as a JSON document, and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from difflib import get_close_matches
from enum import StrEnum
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from nightwater.findings import UserError
from nightwater.ground.settings import Settings


def plain_value(value: Any) -> Any:
    """A setting as plain dicts, lists, numbers and text."""
    if is_dataclass(value):
        return {f.name: plain_value(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {key: plain_value(entry) for key, entry in value.items()}
    if isinstance(value, tuple):
        return [plain_value(entry) for entry in value]
    return str(value) if isinstance(value, StrEnum) else value


def settings_to_document(settings: Settings) -> dict[str, Any]:
    """Settings as plain dicts, lists, numbers and text."""
    document: dict[str, Any] = plain_value(settings)
    return document


def settings_from_document(document: Mapping[str, Any]) -> Settings:
    """Settings from a document; what it leaves out takes its default.

    Raises:
        UserError: an unknown name (with the nearest known), a value of the wrong kind, or a
            name without default that is missing.
    """
    settings: Settings = _built(Settings, document, "")
    return settings


def _built(kind: type, document: Any, where: str) -> Any:
    if not isinstance(document, Mapping):
        raise UserError(f"Setting '{where or 'settings'}' must be a set of names and values.")
    known = {f.name: f for f in fields(kind)}
    for name in document:
        if name not in known:
            raise UserError(_unknown(f"{where}{name}", name, known))
    hints = get_type_hints(kind)
    return kind(
        **{
            name: _value(hints[name], document[name], f"{where}{name}")
            for name, declared in known.items()
            if name in document or _required(declared, f"{where}{name}")
        }
    )


def _unknown(full: str, name: str, known: Mapping[str, Any]) -> str:
    near = get_close_matches(str(name), known, 1)
    hint = f" Did you mean '{full.removesuffix(str(name))}{near[0]}'?" if near else ""
    return f"There is no setting '{full}'.{hint}"


def _required(declared: Field[Any], where: str) -> bool:
    if declared.default is MISSING and declared.default_factory is MISSING:
        raise UserError(f"Setting '{where}' is missing and has no default.")
    return False


def _refuse(where: str, value: Any, wanted: str) -> UserError:
    return UserError(f"Setting '{where}' is {value!r}; it must be {wanted}.")


def _value(kind: Any, value: Any, where: str) -> Any:
    if kind is object:  # a document that its own reader checks
        return value
    origin = get_origin(kind)
    if is_dataclass(kind) and isinstance(kind, type):
        return _built(kind, value, f"{where}.")
    if origin in (Union, UnionType):
        return _optional(kind, value, where)
    if origin is tuple:
        return _tuple(get_args(kind), value, where)
    if origin is not None and issubclass(origin, Mapping):
        return _mapping(get_args(kind)[1], value, where)
    return _scalar(kind, value, where)


def _optional(kind: Any, value: Any, where: str) -> Any:
    if value is None:
        return None
    (present,) = (part for part in get_args(kind) if part is not NoneType)
    return _value(present, value, where)


def _tuple(parts: tuple[Any, ...], value: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        raise _refuse(where, value, "a list")
    if parts[-1] is Ellipsis:
        return tuple(_value(parts[0], entry, where) for entry in value)
    if len(parts) != len(value):
        raise _refuse(where, value, f"a list of {len(parts)}")
    return tuple(_value(part, entry, where) for part, entry in zip(parts, value, strict=True))


def _mapping(kind: Any, value: Any, where: str) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        raise _refuse(where, value, "a set of names and values")
    return {str(key): _value(kind, entry, f"{where}.{key}") for key, entry in value.items()}


def _scalar(kind: Any, value: Any, where: str) -> Any:
    if kind is float and isinstance(value, int | float) and not isinstance(value, bool):
        if value != value or value in (float("inf"), float("-inf")):  # noqa: PLR0124 - NaN
            raise _refuse(where, value, "a finite number")
        return float(value)
    if kind is int and isinstance(value, int) and not isinstance(value, bool):
        return value
    if kind is bool and isinstance(value, bool):
        return value
    if issubclass(kind, StrEnum):
        return _choice(kind, value, where)
    if kind is str and isinstance(value, str):
        return value
    words = {float: "a number", int: "a whole number", bool: "true or false", str: "text"}
    raise _refuse(where, value, words[kind])


def _choice(kind: type[StrEnum], value: Any, where: str) -> StrEnum:
    if value not in list(kind):
        raise _refuse(where, value, f"one of {', '.join(kind)}")
    return kind(value)
