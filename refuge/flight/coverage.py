"""For how many airfields there is which kind of evidence, and where there is none (method.md 4's hierarchy)."""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from refuge.airfield import Airfield, Station
from refuge.earth import Box
from refuge.flight.bearing import BORROW_FORECAST_NM, FieldArrays, StationArrays, near_pairs
from refuge.flight.situation import Hearing
from refuge.flight.state_arrays import Bools, Ints
from refuge.flight.weigh import field_inquiry

KINDS = (
    "own report and own forecast",
    "own report and borrowed forecast",
    "borrowed report, own or borrowed forecast",
    "own report alone",
    "borrowed report alone",
    "forecast alone",
    "nothing",
)
"""From the best; ``forecast`` is a TAF or, where it is asked for, guidance."""
USABLE_FT = 2000.0
AT_ONCE = 500
"""Fields looked at together: fields x stations stay within some tens of MB."""
HOLE_DEG = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """The kind of evidence (index into `KINDS`) of n airfields, and which are usable; arrays of shape (n,).

    ``own_report``, ``report`` and ``forecast`` say whether there is one of the field's own, any, any.
    ``usable`` is at least 2,000 ft of hard runway.
    """

    airfields: tuple[Airfield, ...]
    kind: Ints
    own_report: Bools
    report: Bools
    forecast: Bools
    usable: Bools

    def counts(self, among: Bools) -> tuple[int, ...]:
        """Return how many of some airfields (n,) have each kind."""
        found = np.bincount(self.kind[among], minlength=len(KINDS))
        return tuple(int(number) for number in found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A box of two degrees in which usable airfields have no evidence at all: how many, and of how many."""

    box: Box
    bare: int
    usable: int
    names: tuple[str, ...]


def usable(airfield: Airfield) -> bool:
    """Return whether an airfield is known to have at least 2,000 ft of hard runway that is not closed."""
    return any(
        runway.surface == "hard"
        and not runway.closed
        and runway.length_ft is not None
        and runway.length_ft >= USABLE_FT
        for runway in airfield.runways or ()
    )


def coverage(
    airfields: Sequence[Airfield],
    stations: Sequence[Station],
    hearing: Mapping[str, Hearing],
    *,
    guided: Collection[str] = (),
) -> Coverage:
    """Return what each airfield's answer can rest on, whatever the weather says.

    `hearing` says which stations bear, and for what; `guided` names stations that have guidance, which
    counts like a forecast of theirs.
    """
    heard = [
        s
        for s in stations
        if s.id in hearing and (hearing[s.id].reports or hearing[s.id].forecasts or hearing[s.id].guidance)
    ]
    arrays = _stations(heard, hearing, frozenset(guided))
    index = {station.id: i for i, station in enumerate(heard)}
    n = len(airfields)
    own_report, report = np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
    own_forecast, forecast = np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
    for first in range(0, n, AT_ONCE):
        fields = _fields(airfields[first : first + AT_ONCE], index)
        near = near_pairs(
            fields.lat_deg, fields.lon_deg, arrays.lat_deg, arrays.lon_deg,
            np.full(fields.lat_deg.shape, BORROW_FORECAST_NM),
        )  # fmt: skip
        inquiry = field_inquiry(fields, arrays, near)
        for pairs, own, some in (
            (inquiry.reports, own_report, report),
            (inquiry.forecasts, own_forecast, forecast),
        ):
            some[first + pairs.field] = True
            own[first + pairs.field[fields.station[pairs.field] == pairs.station]] = True
    kind = np.select(
        [own_report & own_forecast, own_report & forecast, report & forecast, own_report, report, forecast],
        range(6),
        6,
    )
    return Coverage(
        airfields=tuple(airfields), kind=kind.astype(np.int64), own_report=own_report, report=report,
        forecast=forecast, usable=np.array([usable(field) for field in airfields], dtype=bool),
    )  # fmt: skip


def _heard(hearing: Hearing) -> bool:
    return hearing.reports or hearing.forecasts or hearing.guidance


def as_listed(stations: Sequence[Station]) -> dict[str, Hearing]:
    """Return what a list of stations says that each gives, for want of what was heard."""
    return {
        s.id: Hearing(reports=s.reports, forecasts=s.forecasts, ever_ceiling=s.reports, ever_visibility=s.reports)
        for s in stations
        if s.reports or s.forecasts
    }


def holes(found: Coverage, most: int = 10) -> tuple[Hole, ...]:
    """Return the boxes with most usable airfields of which nothing is known, the worst first."""
    bare, total = Counter[tuple[int, int]](), Counter[tuple[int, int]]()
    names: dict[tuple[int, int], list[str]] = {}
    for field, kind, good in zip(found.airfields, found.kind, found.usable, strict=True):
        if not good:
            continue
        cell = int(np.floor(field.lat_deg / HOLE_DEG)), int(np.floor(field.lon_deg / HOLE_DEG))
        total[cell] += 1
        if kind == len(KINDS) - 1:
            bare[cell] += 1
            names.setdefault(cell, []).append(field.id)
    worst = sorted(bare, key=lambda cell: (-bare[cell], cell))[:most]
    return tuple(
        Hole(box=_box(*cell), bare=bare[cell], usable=total[cell], names=tuple(names[cell])) for cell in worst
    )


def _box(south: int, west: int) -> Box:
    return Box(
        lat_south_deg=south * HOLE_DEG,
        lat_north_deg=(south + 1) * HOLE_DEG,
        lon_west_deg=west * HOLE_DEG,
        lon_east_deg=(west + 1) * HOLE_DEG,
    )


def _stations(stations: Sequence[Station], hearing: Mapping[str, Hearing], guided: frozenset[str]) -> StationArrays:
    def flags(values: Iterator[bool]) -> Bools:
        return np.array(list(values), dtype=bool)

    heard = [hearing[s.id] for s in stations]
    return StationArrays(
        lat_deg=np.array([s.lat_deg for s in stations], dtype=float),
        lon_deg=np.array([s.lon_deg for s in stations], dtype=float),
        elevation_ft=np.array([s.elevation_ft or 0.0 for s in stations], dtype=float),
        height_known=flags(s.elevation_ft is not None for s in stations),
        reports=flags(h.reports for h in heard),
        guidance=np.zeros(len(stations), dtype=bool),
        forecasts=flags(h.forecasts or h.guidance or s.id in guided for s, h in zip(stations, heard, strict=True)),
        ever_ceiling=flags(h.ever_ceiling for h in heard),
        ever_visibility=flags(h.ever_visibility for h in heard),
        small_spread=np.zeros(len(stations), dtype=bool),
    )


def _fields(airfields: Sequence[Airfield], index: Mapping[str, int]) -> FieldArrays:
    n = len(airfields)
    return FieldArrays(
        lat_deg=np.array([a.lat_deg for a in airfields], dtype=float),
        lon_deg=np.array([a.lon_deg for a in airfields], dtype=float),
        elevation_ft=np.array([a.elevation_ft or 0.0 for a in airfields], dtype=float),
        height_known=np.array([a.elevation_ft is not None for a in airfields], dtype=bool),
        station=np.array([index.get(a.station_id or "", -1) for a in airfields], dtype=np.int64),
        required_ft=np.zeros(n), required_sm=np.zeros(n), night=np.zeros(n, dtype=bool),
        error_radius_nm=np.zeros(n),
    )  # fmt: skip
