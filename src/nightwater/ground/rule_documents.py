"""Rules that a person wrote as plain values: every fault told at once, none ignored."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from nightwater.findings import UserError


def unknown_name(what: str, name: object, known: Sequence[str]) -> str:
    """Words for a name that is not known, with the nearest one or all of them."""
    near = get_close_matches(str(name), known, 1, 0.5)
    hint = f"did you mean '{near[0]}'?" if near else f"known: {', '.join(known)}"
    return f"unknown {what} '{name}' ({hint})"


class RuleReader:
    """Collects the faults of one document of rules.

    Attributes:
        what: what the rules are for, as the message begins.
        faults: what is wrong so far, each in words.
    """

    def __init__(self, what: str) -> None:
        self.what = what
        self.faults: list[str] = []

    def names(self, where: str, what: str, given: Iterable[object], known: Sequence[str]) -> None:
        """Names that are not among the known ones are faults."""
        at = f"{where}: " if where else ""
        self.faults += [at + unknown_name(what, name, known) for name in given if name not in known]

    def mapping(self, document: Any, key: str) -> Mapping[str, Any]:
        """The named values under a key; empty where there are none, or where it is no mapping."""
        found = document.get(key, {})
        if not isinstance(found, Mapping):
            self.faults.append(f"{key} is no set of named values")
            return {}
        return found

    def number(
        self, where: str, document: Mapping[str, Any], key: str, lowest: float, highest: float
    ) -> None:
        """A number between two bounds, where it is given."""
        value = document.get(key, lowest)
        sound = isinstance(value, int | float) and not isinstance(value, bool)
        if not sound or not lowest <= value <= highest:
            self.faults.append(f"{where}{key} is no number from {lowest:g} to {highest:g}")

    def whole(
        self, where: str, document: Mapping[str, Any], key: str, lowest: int, highest: int
    ) -> None:
        """A whole number between two bounds, where it is given."""
        value = document.get(key, lowest)
        sound = isinstance(value, int) and not isinstance(value, bool)
        if not sound or not lowest <= value <= highest:
            self.faults.append(f"{where}{key} is no whole number from {lowest} to {highest}")

    def text(self, where: str, document: Mapping[str, Any], key: str) -> None:
        """A text that is not empty, where it is given."""
        value = document.get(key, "-")
        if not isinstance(value, str) or not value.strip():
            self.faults.append(f"{where}{key} is no text")

    def check(self) -> None:
        """Refuse the document if anything was wrong with it.

        Raises:
            UserError: names every fault.
        """
        if self.faults:
            raise UserError(f"The {self.what} do not read: {'; '.join(self.faults)}.")
