"""XML that somebody sent: its root, and a refusal of what a map never needs."""

from __future__ import annotations

import io
from typing import Final
from xml.etree import ElementTree

from nightwater.findings import UserError

_DECLARATIONS: Final = ("<!DOCTYPE", "<!ENTITY")


def root_name(content: bytes, name: str) -> str:
    """The root element's name without its namespace.

    Raises:
        UserError: no XML, or XML that declares entities (they can unpack without end, and no
            map format has any).
    """
    for declared in _DECLARATIONS:
        for coding in ("ascii", "utf-16-le", "utf-16-be"):
            if declared.encode(coding) in content:
                raise UserError(
                    f"{name} declares entities of its own ({declared}), which no map needs. "
                    "Take that out and try again."
                )
    try:
        for _, element in ElementTree.iterparse(io.BytesIO(content), events=("start",)):
            return str(element.tag).rpartition("}")[2]
    except (ElementTree.ParseError, LookupError, ValueError) as problem:
        raise UserError(f"{name} is not sound XML: {problem}.") from None
    raise UserError(f"{name} is empty.")


def check_root(content: bytes, wanted: str, name: str) -> None:
    """Refuse a file whose root element is another than its ending promises.

    Raises:
        UserError: with the root it has.
    """
    root = root_name(content, name)
    if root != wanted:
        raise UserError(f"{name} is not what its ending says: its root is {root}, not {wanted}.")
