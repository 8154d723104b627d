"""Terrain models: ground heights on a square grid, read from an ESRI ASCII grid or a GeoTIFF.

Rows run from north to south, as both files have them; the position of a grid is its lower left
corner. Heights are metres above the vertical datum of the site.
"""

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

import numpy as np
import pyproj
from numpy.typing import NDArray

from shared_core.errors import UnknownError, UnreadableError

if TYPE_CHECKING:
    from rasterio.io import DatasetReader

LOWEST_GROUND_M: Final = -500.0  # the lowest dry land lies near -430 m: common knowledge
HIGHEST_GROUND_M: Final = 9000.0  # and the highest near 8,850 m
ASCII_NO_DATA: Final = -9999.0  # what an ESRI ASCII grid means when it names none: from memory
TIFF_MARKS: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")  # TIFF 6.0 section 2; 43 is BigTIFF
CELLS_TO_DOUBT: Final = 10_000_000  # a header that promises more is first held against the file
SAME_LENGTH: Final = 1e-6  # relative difference up to which two cell sides are one


@dataclass(frozen=True, eq=False)
class Terrain:
    """Ground heights `z` [m], row 0 in the north, NaN where there are none.

    `cell_m` is the side of a cell; `x0`, `y0` are easting and northing [m] of the lower left corner
    of the grid in the projected coordinate system `epsg`.
    """

    z: NDArray[np.float64]
    cell_m: float
    x0: float
    y0: float
    epsg: int

    def __post_init__(self) -> None:
        if self.z.ndim != 2 or self.z.size == 0:
            raise ValueError("heights are a grid of rows and columns")
        if not (math.isfinite(self.cell_m) and self.cell_m > 0):
            raise ValueError(f"a cell has a side above zero, not {self.cell_m}")

    @property
    def east_m(self) -> float:
        """Easting [m] of the right-hand edge."""
        return self.x0 + float(self.z.shape[1]) * self.cell_m

    @property
    def north_m(self) -> float:
        """Northing [m] of the upper edge."""
        return self.y0 + float(self.z.shape[0]) * self.cell_m

    def cell_at(self, easting_m: float, northing_m: float) -> tuple[int, int] | None:
        """Return row and column of the cell at a point [m], or None outside the grid."""
        if not (self.x0 <= easting_m < self.east_m and self.y0 < northing_m <= self.north_m):
            return None
        rows, columns = self.z.shape
        row = min(int((self.north_m - northing_m) / self.cell_m), rows - 1)
        return row, min(int((easting_m - self.x0) / self.cell_m), columns - 1)


def ground_at(terrain: Terrain, easting_m: float, northing_m: float) -> float | None:
    """Return the ground height [m] at a point [m], bilinear between the four cell centres around.

    None where a centre it needs has no height, and in the outer half cell of the grid.
    """
    column = (easting_m - terrain.x0) / terrain.cell_m - 0.5
    row = (terrain.north_m - northing_m) / terrain.cell_m - 0.5
    rows, columns = terrain.z.shape
    if not (0 <= row <= rows - 1 and 0 <= column <= columns - 1):
        return None
    r, c = int(row), int(column)
    down, right = row - r, column - c
    weights = ((1 - down) * (1 - right), (1 - down) * right, down * (1 - right), down * right)
    cells = ((r, c), (r, c + 1), (r + 1, c), (r + 1, c + 1))
    height_m = sum(w * float(terrain.z[cell]) for w, cell in zip(weights, cells, strict=True) if w)
    return height_m if math.isfinite(height_m) else None


def read_terrain(path: Path | str, epsg: int) -> Terrain:
    """Read a terrain model in the projected coordinate system `epsg`, ASCII grid or GeoTIFF.

    What the file is, its first bytes tell; the name of the file does not matter.

    Raises:
        UnknownError: when there is no such file.
        UnreadableError: when it is neither form, broken, or not in this coordinate system.
    """
    path = Path(path)
    if not path.is_file():
        raise UnknownError(f"there is no terrain model {path.name}")
    with path.open("rb") as file:
        start = file.read(64)
    if start[:4] in TIFF_MARKS:
        return read_geotiff(path, epsg)
    if start.lstrip(b"\xef\xbb\xbf \t\r\n")[:1].isalpha() and path.suffix.lower() != ".tif":
        return read_ascii_grid(path, epsg)
    raise UnreadableError(
        f"{path.name} is neither an ESRI ASCII grid, which begins with ncols and a number, "
        "nor a GeoTIFF"
    )


# --- coordinate systems ---


def check_epsg(epsg: int) -> pyproj.CRS:
    """Return a coordinate system in which areas can be counted in square metres.

    Raises:
        UnreadableError: when there is none of this number, or it is not projected in metres.
    """
    try:
        system = pyproj.CRS.from_epsg(epsg)
    except pyproj.exceptions.CRSError:
        raise UnreadableError(
            f"EPSG:{epsg} is no coordinate system; a projected one in metres is needed, "
            "for example EPSG:7856 (GDA2020 / MGA zone 56)"
        ) from None
    metres = all(axis.unit_conversion_factor == 1 for axis in system.axis_info[:2])
    if not (system.is_projected and metres):
        raise UnreadableError(
            f"EPSG:{epsg} ({system.name}) is not projected in metres; give the projected system "
            "of the terrain model, for example EPSG:7856 (GDA2020 / MGA zone 56)"
        )
    return system


def _check_same_system(text: str, epsg: int, name: str) -> None:
    """Hold the coordinate system a file names, as WKT, against the one asked for."""
    asked = check_epsg(epsg)
    try:
        own = pyproj.CRS.from_wkt(text)
    except pyproj.exceptions.CRSError:
        raise UnreadableError(f"the coordinate system named by {name} cannot be read") from None
    own = own.sub_crs_list[0] if own.is_compound else own
    own = own.source_crs if own.is_bound and own.source_crs else own
    number = own.to_epsg(min_confidence=25)
    if number != epsg and not own.equals(asked, ignore_axis_order=True):
        known_as = f"EPSG:{number} ({own.name})" if number else own.name
        raise UnreadableError(
            f"{name} says its coordinate system is {known_as}, not EPSG:{epsg} ({asked.name})"
        )


def _heights(z: NDArray[np.float64], name: str) -> NDArray[np.float64]:
    lowest_m, highest_m = (float(pick.reduce(z, axis=None)) for pick in (np.fmin, np.fmax))
    if math.isnan(lowest_m):
        raise UnreadableError(f"{name} has no ground height in any cell")
    if lowest_m < LOWEST_GROUND_M or highest_m > HIGHEST_GROUND_M:
        raise UnreadableError(
            f"{name} has heights from {lowest_m:g} to {highest_m:g} m, which no ground has; if one "
            "of them stands for no data, the file must say so (NODATA_value)"
        )
    return z


# --- ESRI ASCII grid ---


def read_ascii_grid(path: Path | str, epsg: int) -> Terrain:
    """Read an ESRI ASCII grid: a header of words and numbers, then one line for each row.

    A coordinate system in a .prj file of the same name is held against `epsg`.

    Raises:
        UnreadableError: when header, rows or coordinate system are wrong; the text says where.
    """
    path = Path(path)
    check_epsg(epsg)
    beside = path.with_suffix(".prj")
    if beside.is_file():
        _check_same_system(beside.read_text("utf-8", errors="replace"), epsg, beside.name)
    with path.open("rb") as file:
        header, first, line_number = _header(file, path.name)
        rows, columns = _counts(header, path)
        z = _rows(file, (rows, columns), (first, line_number), path.name)
    cell_m = _cell_side(header, path.name)
    z[z == header.get("nodata_value", ASCII_NO_DATA)] = np.nan
    z[np.isinf(z)] = np.nan
    x0, y0 = (_corner(header, axis, cell_m, path.name) for axis in "xy")
    return Terrain(_heights(z, path.name), cell_m, x0, y0, epsg)


def _header(file: BinaryIO, name: str) -> tuple[dict[str, float], bytes, int]:
    """Return the header, and the first line after it with its number."""
    header: dict[str, float] = {}
    for number, line in enumerate(file, 1):
        words = line.removeprefix(b"\xef\xbb\xbf").decode("utf-8", errors="replace").split()
        if not words:
            continue
        key = words[0].lower()
        if not key[0].isalpha() or key in {"nan", "inf"}:
            return header, line, number
        try:
            (value,) = words[1:]
            header[key] = float(value)
        except ValueError:
            raise UnreadableError(
                f"line {number} of {name} should be a word and a number, such as "
                f'"ncols 220", not "{" ".join(words)[:40]}"'
            ) from None
    raise UnreadableError(f"{name} ends before its first row of heights")


def _counts(header: dict[str, float], path: Path) -> tuple[int, int]:
    for key in ("nrows", "ncols"):
        value = header.get(key, 0)
        if not (value >= 1 and value == int(value)):
            given = f"{key} {value:g}" if key in header else f"no {key}"
            raise UnreadableError(
                f"the header of {path.name} has {given}; a whole number above zero is needed"
            )
    rows, columns = int(header["nrows"]), int(header["ncols"])
    if rows * columns > CELLS_TO_DOUBT and 2 * rows * columns > path.stat().st_size + 1:
        raise UnreadableError(
            f"the header of {path.name} promises {rows} rows of {columns} values; "
            "the file is too short for them"
        )
    return rows, columns


def _cell_side(header: dict[str, float], name: str) -> float:
    side = header.get("cellsize", header.get("dx", 0.0))
    other = header.get("dy", side)
    if not (math.isfinite(side) and side > 0):
        raise UnreadableError(f"the header of {name} needs cellsize and a number above zero")
    if not math.isclose(side, other, rel_tol=SAME_LENGTH):
        raise UnreadableError(f"the cells of {name} are {side:g} by {other:g} m, not square")
    return side


def _corner(header: dict[str, float], axis: str, cell_m: float, name: str) -> float:
    corner, centre = f"{axis}llcorner", f"{axis}llcenter"
    place = header.get(corner, header.get(centre, math.nan) - cell_m / 2)
    if not math.isfinite(place):
        raise UnreadableError(f"the header of {name} needs {corner} or {centre} and a number")
    return place


def _rows(
    file: BinaryIO, shape: tuple[int, int], first: tuple[bytes, int], name: str
) -> NDArray[np.float64]:
    rows, columns = shape
    z = np.empty(shape)
    row, line, number = 0, *first
    while line:
        if line.strip():
            values = _numbers(line, number, name)
            if row == rows:
                raise UnreadableError(
                    f"line {number} of {name} is one more than the {rows} rows its header promises"
                )
            if values.size != columns:
                raise UnreadableError(
                    f"line {number} of {name} (row {row + 1}) has {values.size} values; "
                    f"{columns} are needed"
                )
            z[row] = values
            row += 1
        line, number = file.readline(), number + 1
    if row < rows:
        raise UnreadableError(
            f"{name} ends at line {number - 1} after {row} rows; its header promises {rows}"
        )
    return z


def _numbers(line: bytes, number: int, name: str) -> NDArray[np.float64]:
    text = line.decode("utf-8", errors="replace")
    try:
        return np.loadtxt([text], dtype=np.float64, comments=None, ndmin=1)
    except ValueError:
        bad = next((word for word in text.split() if not _is_number(word)), text)
        raise UnreadableError(
            f'line {number} of {name} has "{bad[:40]}" where a height in metres is needed'
        ) from None


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


# --- GeoTIFF ---


def read_geotiff(path: Path | str, epsg: int) -> Terrain:
    """Read a GeoTIFF of one band of heights, north up, with square cells.

    Raises:
        UnreadableError: when the file is broken or of another make, its coordinate system is not
            `epsg`, or the part of the product that reads GeoTIFF is not installed.
    """
    path = Path(path)
    check_epsg(epsg)
    with _opened(path) as file:
        if file.crs:
            _check_same_system(file.crs.to_wkt(), epsg, path.name)
        _check_layout(file, path.name)
        z = _band(file)
        place = file.transform
    south_m = place.f + place.e * z.shape[0]
    return Terrain(_heights(z, path.name), place.a, place.c, south_m, epsg)


@contextmanager
def _opened(path: Path) -> Iterator["DatasetReader"]:
    try:
        import rasterio  # noqa: PLC0415 - an extra, loaded when a GeoTIFF is first read
    except ImportError:
        raise UnreadableError(
            f"reading {path.name}, a GeoTIFF, needs one more part: pip install strandline[dem]; "
            "an ESRI ASCII grid is read without it"
        ) from None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
            file = rasterio.open(path, driver="GTiff")
        with file:
            yield file
    except rasterio.errors.RasterioError as error:
        raise UnreadableError(f"{path.name} is a broken GeoTIFF: {error}") from None


def _check_layout(file: "DatasetReader", name: str) -> None:
    place = file.transform
    if file.count != 1 or file.dtypes[0].startswith("complex"):
        raise UnreadableError(
            f"{name} has {file.count} bands of {file.dtypes[0]}; one band of heights is needed"
        )
    if place.is_identity:
        raise UnreadableError(f"{name} does not say where on the ground it lies")
    square = math.isclose(place.a, -place.e, rel_tol=SAME_LENGTH)
    if place.b or place.d or place.a <= 0 or not square:
        raise UnreadableError(f"{name} is not a grid of square cells with north at the top")


def _band(file: "DatasetReader") -> NDArray[np.float64]:
    stored = file.read(1)
    z: NDArray[np.float64] = stored.astype(np.float64)
    if (file.scales[0], file.offsets[0]) != (1.0, 0.0):
        z = z * file.scales[0] + file.offsets[0]
    if file.nodata is not None:
        z[stored == file.nodata] = np.nan
    if stored.dtype.kind == "f":
        z[np.isinf(stored)] = np.nan
    return z
