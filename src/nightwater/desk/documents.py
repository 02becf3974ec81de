"""Small documents on disk: read with a clear word, written whole or not at all."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from nightwater.findings import UserError


def read_document(path: Path) -> dict[str, Any]:
    """A JSON object from a file.

    Raises:
        UserError: no such file, not JSON, or not an object.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as problem:
        raise UserError(f"{path} cannot be read: {problem.strerror}.") from None
    except ValueError as problem:
        raise UserError(f"{path} is not JSON: {problem}.") from None
    if not isinstance(document, dict):
        raise UserError(f"{path} holds a list or a single value; one JSON object is wanted.")
    return document


def _usual_mode() -> int:
    """What a new file would have here: a temporary one is for its maker alone."""
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def write_bytes_whole(path: Path, content: bytes) -> None:
    """Write a file through a temporary neighbour, so that it is never half there.

    Raises:
        UserError: the folder is missing or not writable.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent or ".", prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fchmod(out.fileno(), _usual_mode())
            os.fsync(out.fileno())
        Path(name).replace(path)
    except OSError as problem:
        raise UserError(f"{path} cannot be written: {problem.strerror}.") from None


def write_whole(path: Path, makers: Mapping[str, Callable[[], Any]]) -> None:
    """Write what the file's ending asks for.

    Args:
        path: the target.
        makers: per ending (".pdf" …) what makes its content: bytes, or a JSON document.

    Raises:
        UserError: an ending nobody makes, or a folder that cannot be written.
    """
    maker = makers.get(path.suffix.lower())
    if maker is None:
        raise UserError(f"{path}: write a file ending in {', '.join(makers)}.")
    made = maker()
    text = made if isinstance(made, bytes) else json.dumps(made, indent=1, default=str).encode()
    write_bytes_whole(path, text)


def write_folder_whole(path: Path, files: Mapping[str, bytes]) -> None:
    """Write a new folder of files through a temporary neighbour, so that it is never half there.

    Raises:
        UserError: the folder is there already and not empty, or cannot be written.
    """
    try:
        if path.exists() and (not path.is_dir() or any(path.iterdir())):
            raise UserError(f"{path} is there already. Name a new folder, or empty this one.")
        with tempfile.TemporaryDirectory(dir=path.parent or ".", prefix=f".{path.name}.") as name:
            made = Path(name) / path.name
            made.mkdir()
            for file, content in files.items():
                write_bytes_whole(made / file, content)
            made.replace(path)
    except OSError as problem:
        raise UserError(f"{path} cannot be written: {problem.strerror}.") from None
