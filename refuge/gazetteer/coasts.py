"""The map that the wheel carries: the world's coasts and borders, and those of the demo's invented country."""

import json
from collections import Counter
from collections.abc import Iterator
from functools import cache
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from refuge.coast import Coast, Line
from refuge.errors import InputError
from refuge.packaged import packaged

WORLD = "countries-50m.json"
INVENTED = "coast.geojson"
NEAR_POLE_DEG = 89.9
ON_MERIDIAN_DEG = 1e-6


@cache
def world_coast() -> Coast:
    """Return the coasts and borders of the world, those of Natural Earth."""
    return load_topology(packaged("map") / WORLD, said="coasts and borders: Natural Earth, 1:50,000,000")


@cache
def invented_coast() -> Coast:
    """Return the coast and border of the demo's country, in the sea of the world."""
    invented = load_geojson(packaged("demo") / INVENTED, said="coast and border of Velmark: invented for the demo")
    return invented.joined(world_coast())


def coast_of(*, invented: bool) -> Coast:
    """Return what a map shows: the world, with the demo's country in it where that is asked."""
    return invented_coast() if invented else world_coast()


def load_topology(path: Path, *, said: str) -> Coast:
    """Return the coasts and borders of a TopoJSON file with the objects ``land`` and ``countries``.

    Each arc is cut up in steps (TopoJSON 1.0, 2.1.3 and 2.1.4: quantized, delta-encoded; an index below zero is an
    arc run backwards). What two countries share is a border, the rest is coast.

    Raises
    ------
    InputError
        If the file cannot be read as one.
    """
    try:
        topology = json.loads(path.read_bytes())
        scale, start = (np.array(topology["transform"][key], dtype=float) for key in ("scale", "translate"))
        arcs = [np.cumsum(np.array(arc, dtype=float), axis=0) * scale + start for arc in topology["arcs"]]
        land = [[_ring(arcs, ring) for ring in polygon] for polygon in _polygons(topology["objects"]["land"])]
        rings = chain.from_iterable(_polygons(topology["objects"]["countries"]))
        uses = Counter(index if index >= 0 else ~index for ring in rings for index in ring)
        lines = [arcs[index] for index in sorted(uses)]
    except (OSError, ValueError, KeyError, IndexError, TypeError) as exc:
        raise _broken(path) from exc
    shared = [uses[index] > 1 for index in sorted(uses)]
    return Coast(
        land=tuple(tuple(ring for ring in polygon if not _at_pole(ring)) for polygon in land),
        coasts=tuple(chain.from_iterable(_uncut(line) for line, two in zip(lines, shared, strict=True) if not two)),
        borders=tuple(chain.from_iterable(_uncut(line) for line, two in zip(lines, shared, strict=True) if two)),
        said=said,
    )


def _polygons(geometry: dict[str, Any]) -> Iterator[list[list[int]]]:
    """Yield the polygons of a geometry, each a list of rings, each a list of indices of arcs."""
    match geometry:
        case {"type": "GeometryCollection", "geometries": geometries}:
            for each in geometries:
                yield from _polygons(each)
        case {"type": "MultiPolygon", "arcs": polygons}:
            yield from polygons
        case {"type": "Polygon", "arcs": polygon}:
            yield polygon
        case _:
            pass


def _ring(arcs: list[Line], ring: list[int]) -> Line:
    parts = [arcs[index] if index >= 0 else arcs[~index][::-1] for index in ring]
    return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])


def _at_pole(ring: Line) -> bool:
    """Return whether a ring is but the pole itself, which the data hold as a line along the edge of their map."""
    return bool((np.abs(ring[:, 1]) > NEAR_POLE_DEG).all())


def _uncut(line: Line) -> Iterator[Line]:
    """Yield a line without what runs along the edges of a flat map: 180 degrees, and the poles."""
    edge = (np.abs(np.abs(line[:, 0]) - 180.0) < ON_MERIDIAN_DEG) | (np.abs(line[:, 1]) > NEAR_POLE_DEG)
    breaks = np.flatnonzero(edge[:-1] & edge[1:]) + 1
    yield from (part for part in np.split(line, breaks) if len(part) > 1)


def load_geojson(path: Path, *, said: str) -> Coast:
    """Return the coast and border of a GeoJSON file: polygons are land, lines are borders.

    Raises
    ------
    InputError
        If the file cannot be read as one, or holds anything else.
    """
    try:
        shapes = [feature["geometry"] for feature in json.loads(path.read_bytes())["features"]]
        if {shape["type"] for shape in shapes} - {"Polygon", "LineString"}:
            raise _broken(path)
        land = [tuple(_line(ring) for ring in s["coordinates"]) for s in shapes if s["type"] == "Polygon"]
        borders = tuple(_line(s["coordinates"]) for s in shapes if s["type"] == "LineString")
    except (OSError, ValueError, KeyError, TypeError) as exc:
        raise _broken(path) from exc
    return Coast(land=tuple(land), coasts=tuple(chain.from_iterable(land)), borders=borders, said=said)


def _line(points: list[list[float]]) -> Line:
    line = np.array(points, dtype=float)
    if line.ndim != 2 or line.shape[1] != 2:
        raise ValueError("no line of longitudes and latitudes")
    return line


def _broken(path: Path) -> InputError:
    return InputError("is no map that can be read", where=str(path), remedy="install refuge again")
