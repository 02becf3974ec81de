"""A map file must begin as its ending promises.

The library that reads maps goes by what a file holds, not by its name. Some of what it knows
are no maps but orders to read other files, from this machine or from the network.
"""

from __future__ import annotations

import re
import zipfile
from pathlib import Path, PurePosixPath
from typing import Final

from nightwater.findings import UserError
from nightwater.survey.archives import ARCHIVE_ERRORS, checked_members
from nightwater.survey.markup import root_name

_MAGIC: Final = {
    ".gpkg": b"SQLite format 3\x00",
    ".fgb": b"fgb",
    ".shp": b"\x00\x00\x27\x0a",
}
_JSON: Final = (".geojson", ".json")
_FEATURES: Final = re.compile(
    rb'"type"\s*:\s*"(FeatureCollection|Feature|Topology|GeometryCollection'
    rb'|(Multi)?(Point|LineString|Polygon))"'
)
_ORDERS: Final = (b"gdal_streamed_alg", b"OGRVRTDataSource", b"VRTDataset")
_GML: Final = b"http://www.opengis.net/gml"
_ROOTS: Final = re.compile(r"(OGR|VRT|GDAL|WMS|VDV)", re.IGNORECASE)


def _no_map(name: str, why: str) -> UserError:
    return UserError(f"{name} cannot be read as a map layer: {why}.")


def _check_json(content: bytes, name: str) -> None:
    if not content.removeprefix(b"\xef\xbb\xbf").lstrip().startswith((b"{", b"[")):
        raise _no_map(name, "it is not JSON")
    if any(order in content for order in _ORDERS) or not _FEATURES.search(content):
        raise _no_map(name, "it holds no features")


def _check_gml(content: bytes, name: str) -> None:
    root = root_name(content, name)
    if _ROOTS.match(root) or _GML not in content:
        raise _no_map(name, f"its root {root} is none of GML")


def check_beginning(path: Path) -> None:
    """Refuse a file that holds something else than its ending promises.

    Raises:
        UserError: with what is missing.
    """
    ending = path.suffix.lower()
    if ending in _JSON:
        _check_json(path.read_bytes(), path.name)
    elif ending == ".gml":
        _check_gml(path.read_bytes(), path.name)
    elif ending in _MAGIC:
        with path.open("rb") as file:
            start = file.read(16)
        if not start.startswith(_MAGIC[ending]):
            raise _no_map(path.name, f"it does not begin as {ending} files do")


def zipped_shapefile(path: Path, layer: str | None) -> str:
    """The one shapefile of an archive, or the one that is named, by its name inside.

    Raises:
        UserError: none, several and none named, or an archive that unpacks to too much.
    """
    members = [member.filename for member in checked_members(path)]
    shapes = {
        PurePosixPath(name).stem: name
        for name in members
        if name.lower().endswith(".shp") and not name.startswith("__MACOSX/")
    }
    if not shapes:
        raise UserError(f"{path.name} holds no shapefile. Zip its .shp, .shx, .dbf and .prj.")
    if layer is None and len(shapes) > 1:
        raise UserError(
            f"{path.name} holds {len(shapes)} layers. Name one with --layer: {', '.join(shapes)}."
        )
    if layer is not None and layer not in shapes:
        raise UserError(f"{path.name} has no layer '{layer}'. It holds {', '.join(shapes)}.")
    member = shapes[layer] if layer is not None else next(iter(shapes.values()))
    try:
        with zipfile.ZipFile(path) as archive, archive.open(member) as file:
            start = file.read(4)
    except ARCHIVE_ERRORS as problem:
        raise _no_map(path.name, " ".join(str(problem).split())[:160]) from None
    if start != _MAGIC[".shp"]:
        raise _no_map(path.name, f"{member} does not begin as shapefiles do")
    return member
