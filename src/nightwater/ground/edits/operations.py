"""Plain operations read and applied: the language that the map and scripts speak."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

from nightwater.findings import UserError
from nightwater.ground.edits.add import add_row
from nightwater.ground.edits.assign import assign
from nightwater.ground.edits.copy_arc import copy_arc
from nightwater.ground.edits.forms import FORMS
from nightwater.ground.edits.merge import merge
from nightwater.ground.edits.move import move
from nightwater.ground.edits.place_along import place_along
from nightwater.ground.edits.remove import remove
from nightwater.ground.edits.renumber import renumber
from nightwater.ground.edits.reshape import reshape
from nightwater.ground.edits.rows import nearest
from nightwater.ground.edits.set_values import set_values
from nightwater.ground.edits.split import split
from nightwater.ground.edits.turn import turn
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES

MOST_OPERATIONS: Final = 1000
Edit = Callable[..., Ground]


class OperationError(UserError):
    """An operation of a list that cannot be done; `at` is its place, or None for the list."""

    def __init__(self, message: str, at: int | None) -> None:
        super().__init__(message)
        self.at = at


@dataclass(frozen=True)
class EditRules:
    """What edits need to know beside the record.

    Attributes:
        numbers: how the club counts.
        retired: table → ids that the record had once; they are not made again.
    """

    numbers: NumberRules = field(default_factory=NumberRules)
    retired: Mapping[str, frozenset[str]] = field(default_factory=dict)


_EDITS: Final[Mapping[str, Edit]] = {
    "add": add_row,
    "set": set_values,
    "move": move,
    "reshape": reshape,
    "remove": remove,
    "split": split,
    "merge": merge,
    "copy_arc": copy_arc,
    "turn": turn,
    "assign": assign,
    "place_along": place_along,
    "renumber": renumber,
}
_PARAMETERS: Final[Mapping[str, str]] = {"id": "identity", "from": "source"}


@dataclass(frozen=True)
class Operation:
    """One operation of a list, read.

    Attributes:
        at: its place in the list.
        name: what it does; a key of `FORMS`.
        arguments: its other keys with their values.
    """

    at: int
    name: str
    arguments: Mapping[str, Any]

    @property
    def named(self) -> Iterator[str]:
        """Subjects ("heads:H1") of the rows that it names."""
        for key, table in FORMS[self.name].names.items():
            value = self.arguments.get(key)
            owner = table or self.arguments["table"]
            ids = value if isinstance(value, tuple) else [value]
            yield from (f"{owner}:{identity}" for identity in ids if identity is not None)

    @property
    def makes(self) -> str | None:
        """The table in which it makes rows, if it does."""
        return self.arguments.get("table", "heads") if FORMS[self.name].makes else None

    def edit(self, ground: Ground, rules: EditRules) -> Ground:
        """The ground after it.

        Raises:
            OperationError: it cannot be done, and why.
        """
        given = {_PARAMETERS.get(key, key): value for key, value in self.arguments.items()}
        if self.makes is not None:
            given["retired"] = rules.retired.get(self.makes, frozenset())
        if self.name == "renumber":
            given["rules"] = rules.numbers
        try:
            return partial(_EDITS[self.name], ground)(**given)
        except UserError as why:
            raise OperationError(str(why), self.at) from why


def _arguments(name: str, plain: Mapping[str, Any]) -> dict[str, Any]:
    form = FORMS[name]
    given = {key: value for key, value in plain.items() if key != "op"}
    unknown = [key for key in given if key not in form.keys]
    if unknown:
        raise UserError(f"'{name}' has no '{unknown[0]}'.{nearest(str(unknown[0]), form.keys)}")
    lacking = [key for key in form.needed if key not in given]
    if lacking:
        raise UserError(f"'{name}' lacks '{lacking[0]}'.")
    return {key: form.keys[key](key, value) for key, value in given.items()}


def read_operation(plain: Any, at: int) -> Operation:
    """One operation from plain values.

    Args:
        plain: {"op": …, …} as docs/how/editing.md lists it.
        at: its place in the list.

    Raises:
        OperationError: unknown operation or key, with the nearest known one; a key that is
            missing; a value of another kind.
    """
    try:
        if not isinstance(plain, Mapping):
            raise UserError("An operation is a set of named values, with 'op'.")
        name = plain.get("op")
        if not isinstance(name, str) or name not in FORMS:
            hint = nearest(str(name), FORMS) or f" Known: {', '.join(FORMS)}."
            raise UserError(f"There is no operation '{name}'.{hint}")
        return Operation(at, name, _arguments(name, plain))
    except UserError as why:
        raise OperationError(str(why), at) from why


def checked_list(plain: Any) -> list[Any]:
    """A list of operations that is not empty and not too long, unread.

    Raises:
        OperationError: anything else.
    """
    if not isinstance(plain, list) or not plain:
        raise OperationError("Give a list of one or more operations.", None)
    if len(plain) > MOST_OPERATIONS:
        raise OperationError(
            f"{len(plain)} operations are too many at once; at most {MOST_OPERATIONS} are taken.",
            None,
        )
    return plain


def read_operations(plain: Any) -> list[Operation]:
    """A list of operations from plain values.

    Raises:
        OperationError: no list, an empty one, more than 1,000, or the first that does not read.
    """
    return [read_operation(entry, at) for at, entry in enumerate(checked_list(plain))]


@dataclass(frozen=True)
class Applied:
    """What a list of operations makes of a record.

    Attributes:
        ground: the record after them.
        created: place of an operation → subjects of the rows that it made and that are
            still there.
        impossible: operations that could not be done and were left out, where that is allowed.
    """

    ground: Ground
    created: Mapping[int, tuple[str, ...]]
    impossible: tuple[OperationError, ...] = ()


def _made(before: Ground, after: Ground) -> tuple[str, ...]:
    return tuple(
        f"{name}:{identity}"
        for name in GROUND_TABLES
        if before.table(name) is not after.table(name)
        for identity in after.table(name).index.difference(before.table(name).index, sort=False)
    )


def _still_there(ground: Ground, subjects: Sequence[str]) -> tuple[str, ...]:
    parted = (subject.partition(":") for subject in subjects)
    return tuple(f"{t}:{i}" for t, _, i in parted if i in ground.table(t).index)


def _applied(
    ground: Ground, steps: Iterator[Operation | OperationError], rules: EditRules, *, strict: bool
) -> Applied:
    made: dict[int, tuple[str, ...]] = {}
    impossible: list[OperationError] = []
    for step in steps:
        try:
            if isinstance(step, OperationError):
                raise step
            after = step.edit(ground, rules)
        except OperationError as why:
            if strict:
                raise
            impossible.append(why)
            continue
        if FORMS[step.name].makes:
            made[step.at] = _made(ground, after)
        ground = after
    created = {at: _still_there(ground, subjects) for at, subjects in made.items()}
    return Applied(ground, {at: s for at, s in created.items() if s}, tuple(impossible))


def apply_operations(
    ground: Ground, operations: Sequence[Operation], rules: EditRules | None = None
) -> Applied:
    """The record after a list of operations, one after the other, all or none.

    Args:
        ground: the record as it is kept (station lists not resolved).
        operations: read by `read_operations`.
        rules: how the club counts, and ids that may not come again.

    Raises:
        OperationError: the first that cannot be done, and why.
    """
    return _applied(ground, iter(operations), rules or EditRules(), strict=True)


def _read_or_not(plain: list[Any]) -> Iterator[Operation | OperationError]:
    for at, entry in enumerate(plain):
        try:
            yield read_operation(entry, at)
        except OperationError as why:
            yield why


def try_operations(ground: Ground, plain: Any, rules: EditRules | None = None) -> Applied:
    """The record after those of a list that can be done; the others are told.

    Args:
        ground: the record as it is kept.
        plain: a list of plain operations.
        rules: as for `apply_operations`.

    Raises:
        OperationError: no list at all.
    """
    return _applied(ground, _read_or_not(checked_list(plain)), rules or EditRules(), strict=False)
