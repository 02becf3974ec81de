"""Text tables that lie in one archive, and the file beside a table that says its system."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import Final

from pyproj import CRS
from pyproj.exceptions import CRSError

from nightwater.findings import UserError

_ENDINGS: Final = (".csv", ".tsv", ".txt")
_MAX_UNPACKED: Final = 200 * 1024 * 1024
_MAX_SYSTEM: Final = 100_000
_BROKEN: Final = (
    zipfile.BadZipFile, zipfile.LargeZipFile, OSError, EOFError, ValueError, RuntimeError,
    NotImplementedError,
)  # fmt: skip


def _tables(path: Path) -> dict[str, str]:
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
    except _BROKEN:
        return {}
    if any(name.lower().endswith(".shp") for name in names):
        return {}
    tables = [PurePosixPath(name) for name in names if not name.startswith("__MACOSX/")]
    return {name.stem: str(name) for name in tables if name.suffix.lower() in _ENDINGS}


def is_text_archive(path: Path) -> bool:
    """Whether a file is an archive of text tables (and of no shapefile)."""
    return path.suffix.lower() == ".zip" and bool(_tables(path))


def _member(path: Path, layer: str | None) -> str:
    tables = _tables(path)
    if layer is None and len(tables) > 1:
        raise UserError(
            f"{path.name} holds {len(tables)} tables. Name one with --layer: {', '.join(tables)}."
        )
    if layer is not None and layer not in tables:
        raise UserError(f"{path.name} has no table '{layer}'. It holds {', '.join(tables)}.")
    return tables[layer] if layer is not None else next(iter(tables.values()))


def _unpack(archive: zipfile.ZipFile, member: str, folder: Path, most: int) -> Path:
    target = folder / PurePosixPath(member).name
    with archive.open(member) as packed:
        content = packed.read(most + 1)
    if len(content) > most:
        raise UserError(f"{member} would unpack to more than {most / 1e6:.0f} MB.")
    target.write_bytes(content)
    return target


@contextmanager
def unpacked_table(path: Path, layer: str | None) -> Iterator[Path]:
    """One text table of an archive as a file, with what says its system beside it.

    Raises:
        UserError: several tables and none named, no such table, a broken archive, or one that
            would unpack to too much.
    """
    member = _member(path, layer)
    beside = str(PurePosixPath(member).with_suffix(".prj"))
    with tempfile.TemporaryDirectory() as name:
        try:
            with zipfile.ZipFile(path) as archive:
                table = _unpack(archive, member, Path(name), _MAX_UNPACKED)
                if beside in archive.namelist():
                    _unpack(archive, beside, Path(name), _MAX_SYSTEM)
        except _BROKEN as problem:
            reason = " ".join(str(problem).split())[:160]
            raise UserError(f"{path.name} cannot be read as an archive: {reason}.") from None
        yield table


def system_beside(path: Path) -> CRS | None:
    """The coordinate system that the `.prj` of the same name says; None without one.

    Raises:
        UserError: there is one, and it names no known system.
    """
    beside = path.with_suffix(".prj")
    if not beside.is_file() or beside.stat().st_size > _MAX_SYSTEM:
        return None
    try:
        return CRS.from_user_input(beside.read_text(encoding="utf-8", errors="replace"))
    except CRSError:
        raise UserError(
            f"{beside.name} names no known coordinate system. Mend it, or take it away and say "
            "--crs."
        ) from None
