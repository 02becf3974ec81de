"""A CAD drawing opened: its unit, its place on the globe, what it can and cannot be trusted for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import ezdxf
import numpy as np
from ezdxf import recover
from ezdxf.document import Drawing
from ezdxf.entities.geodata import GeoData
from ezdxf.lldxf.const import DXFError, InvalidGeoDataException
from ezdxf.lldxf.encoding import decode_dxf_unicode
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError

from nightwater.findings import Finding, UserError, note, warning
from nightwater.units import UNITS, to_si

MAX_DRAWING_BYTES: Final = 60 * 1024 * 1024
DRAWING_UNITS: Final = ("m", "cm", "mm", "km", "ft", "us-ft", "in", "yd", "mile")
# $INSUNITS of the DXF reference, header variables.
_INSUNITS: Final = {
    1: "in",
    2: "ft",
    3: "mile",
    4: "mm",
    5: "cm",
    6: "m",
    7: "km",
    10: "yd",
    21: "us-ft",
}
_SAME_UNIT: Final = 1e-7  # the two feet differ by 2e-6
# What the reader of drawings raises on broken ones, beside its own errors.
FOREIGN_FAULTS: Final = (
    DXFError,
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    MemoryError,
    RecursionError,
    StopIteration,
    TypeError,
    ValueError,
)


@dataclass(frozen=True)
class OpenDrawing:
    """A drawing in memory.

    Attributes:
        name: the file's name.
        document: the drawing as the library holds it.
        findings: doubts about the file as such.
    """

    name: str
    document: Drawing
    findings: tuple[Finding, ...]


def _recovered(path: Path, problem: BaseException) -> OpenDrawing:
    try:
        document, audit = recover.readfile(path)
    except (OSError, *FOREIGN_FAULTS):
        reason = " ".join(clean_text(problem).split())[:160] or type(problem).__name__
        raise UserError(f"{path.name} cannot be read as a drawing: {reason}.") from None
    number = len(audit.errors) + len(audit.fixes)
    doubt = warning(
        "drawing-recovered",
        f"file:{path.name}",
        f"{path.name} is broken; it was read by a way that mends and skips ({number} places).",
        "Look at it on the map, or save it anew from the drawing program.",
    )
    return OpenDrawing(path.name, document, (doubt,))


def open_drawing(path: Path) -> OpenDrawing:
    """Open a DXF file, text or binary, of any version; a broken one is recovered with a warning.

    Raises:
        UserError: too large, or beyond recovery.
    """
    if path.stat().st_size > MAX_DRAWING_BYTES:
        raise UserError(
            f"{path.name} has {path.stat().st_size / 1e6:.0f} MB; drawings up to "
            f"{MAX_DRAWING_BYTES / 1e6:.0f} MB are read. Save only the layers that are wanted."
        )
    try:
        return OpenDrawing(path.name, ezdxf.readfile(path), ())  # type: ignore[attr-defined]
    except (OSError, *FOREIGN_FAULTS) as problem:
        return _recovered(path, problem)


def _unit_m(symbol: str) -> float:
    inside = float(to_si(1.0, symbol))
    return inside / 1000.0 if UNITS[symbol].quantity == "depth" else inside


def _wish(name: str, wished: str) -> str:
    if wished not in DRAWING_UNITS:
        raise UserError(
            f"{name} cannot be drawn in '{wished}'. Units of a drawing: {', '.join(DRAWING_UNITS)}."
        )
    return wished


def _declared(drawing: OpenDrawing) -> int:
    stated = drawing.document.header.get("$INSUNITS", 0)
    return int(stated) if isinstance(stated, (int, float)) else 0


def drawing_unit(drawing: OpenDrawing, wished: str | None) -> tuple[str, tuple[Finding, ...]]:
    """The unit that a drawing is drawn in: what a person says, else what it declares.

    A wrong declaration is common (a template's unit left in place), so a person's word wins,
    with a warning that names both.

    Raises:
        UserError: neither says it, or a unit that is no length.
    """
    code = _declared(drawing)
    stated = _INSUNITS.get(code)
    if wished is None and stated is None:
        what = f"states its unit as number {code}, which is not known here" if code else ""
        raise UserError(
            f"{drawing.name} {what or 'does not say the unit it is drawn in'}. Say it with "
            f"--drawing-unit, one of {', '.join(DRAWING_UNITS)}; for instance --drawing-unit ft."
        )
    if wished is None:
        return str(stated), ()
    if stated in (None, _wish(drawing.name, wished)):
        return wished, ()
    doubt = warning(
        "drawing-unit-overruled",
        f"file:{drawing.name}",
        f"{drawing.name} says it is drawn in {stated}; it was read in {wished}, as you said.",
        "Measure a known distance on the map.",
    )
    return wished, (doubt,)


@dataclass(frozen=True)
class Placement:
    """How metres of the drawing come into a coordinate system.

    Attributes:
        matrix: 2 × 3, from drawing coordinates in metres to coordinates of the system.
        crs: the system that the drawing itself declares, or None.
    """

    matrix: NDArray[np.float64]
    crs: str | None

    def applied(self, points_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points of the drawing [m], n × 2, as coordinates of the system."""
        placed: NDArray[np.float64] = points_m @ self.matrix[:, :2].T + self.matrix[:, 2]
        return placed


def _axis_m(crs: CRS) -> float:
    return float(crs.axis_info[0].unit_conversion_factor)


def _geodata(document: Drawing) -> GeoData | None:
    try:
        return document.modelspace().get_geodata()
    except FOREIGN_FAULTS:
        return None


def _own_placement(drawing: OpenDrawing, geodata: GeoData, unit_m: float) -> Placement:
    matrix, epsg = geodata.get_crs_transformation()
    crs = CRS.from_epsg(epsg)
    if not crs.is_projected:
        raise InvalidGeoDataException(f"EPSG:{epsg} is not a projected system")
    scale = float(geodata.dxf.horizontal_unit_scale)
    if abs(scale - unit_m) > _SAME_UNIT * unit_m:
        raise UserError(
            f"{drawing.name} takes its unit as {scale:g} m where it is placed on the map, and as "
            f"{unit_m:g} m elsewhere. Say which with --drawing-unit, or mend the drawing."
        )
    turned = np.array([[matrix[0, 0], matrix[1, 0]], [matrix[0, 1], matrix[1, 1]]]) / unit_m
    reference = np.array([geodata.dxf.reference_point.x, geodata.dxf.reference_point.y])
    design_m = np.array([geodata.dxf.design_point.x, geodata.dxf.design_point.y]) * unit_m
    # The library reckons in metres; the reference point is in the system's own unit.
    turned = turned / _axis_m(crs)
    return Placement(np.column_stack((turned, reference - turned @ design_m)), f"EPSG:{epsg}")


def _asked_placement(name: str, crs: str | None) -> Placement:
    plain = Placement(np.eye(2, 3), None)
    if crs is None:
        return plain
    try:
        system = CRS.from_user_input(crs)
    except CRSError:
        return plain  # refused with its sentence where the system is settled
    if system.is_geographic:
        raise UserError(
            f"{name} is a drawing in metres or feet, and {crs} measures in degrees. Name the "
            "projected system that it is drawn in with --crs."
        )
    return Placement(np.eye(2, 3) / _axis_m(system), None)


def placement(
    drawing: OpenDrawing, unit: str, crs: str | None
) -> tuple[Placement, tuple[Finding, ...]]:
    """Where a drawing lies: by its own map placement, else in the system that a person names.

    Args:
        drawing: the open file.
        unit: what it is drawn in.
        crs: what a person says, or None.

    Raises:
        UserError: a system in degrees, or a placement that contradicts the unit.
    """
    geodata = _geodata(drawing.document)
    if geodata is None:
        return _asked_placement(drawing.name, crs), ()
    try:
        return _own_placement(drawing, geodata, _unit_m(unit)), ()
    except (CRSError, *FOREIGN_FAULTS):
        return _asked_placement(drawing.name, crs), (_unused(drawing.name),)


def _unused(name: str) -> Finding:
    return note(
        "map-placement-unused",
        f"file:{name}",
        f"{name} is placed on the map in a way that is not read here; --crs alone was used.",
        "Look at it on the map; if it is off, save it in the system's own coordinates.",
    )


def unit_in_metres(unit: str) -> float:
    """Length of one drawing unit [m].

    Raises:
        UserError: no unit of a drawing.
    """
    return _unit_m(_wish("The drawing", unit))


def clean_text(text: Any) -> str:
    """Text of a drawing as plain Unicode: escapes decoded, broken bytes marked."""
    decoded = decode_dxf_unicode(str(text))
    return decoded.encode("utf-8", "replace").decode("utf-8").replace("\x00", "").strip()
