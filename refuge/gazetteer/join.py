"""Which weather station stands at which airfield: by code and by distance, never by one alone.

A station is at a field when its identifier is one of the field's codes (ICAO code, GPS code, the
source's own identifier, or K and the local code in the United States) and it is within 3 NM. Codes
wander and are used twice; of the matches by code one in ten is farther off, at 1,750 NM in the
median. A station serves one field and a field has one station: where several fit, one that reports
or has forecasts comes first, then the code that the authority gives now (a retired code may still
be listed, and is silent), then the nearest. A field without such a match is not joined;
borrowing by distance is done elsewhere.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from refuge.airfield import Airfield, Station
from refuge.earth import distances_nm
from refuge.gazetteer.gazette import HIGHEST_FT
from refuge.gazetteer.report import ImportReport, Tally
from refuge.units import M_PER_FT

WITHIN_NM = 3.0
"""Farther from the field than this, a station of the same code is not the field's."""
FEET_FOR_METRES_FT = 10.0
"""A station's number within this of the field's elevation in feet was written in feet."""
CONTRADICTION_FT = 300.0
"""Proposal: a runway and its station within 3 NM seldom differ by more; then one of them is wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """Airfields with their stations, stations with mended elevations, and what was found."""

    airfields: tuple[Airfield, ...]
    stations: tuple[Station, ...]
    report: ImportReport


@dataclass(frozen=True, slots=True, kw_only=True)
class _Match:
    field: int
    station: int
    listed: bool
    rank: int
    distance_nm: float

    @property
    def order(self) -> tuple[bool, int, float]:
        return not self.listed, self.rank, self.distance_nm


def join(
    airfields: Sequence[Airfield],
    codes: Mapping[str, tuple[str, ...]],
    stations: Sequence[Station],
    *,
    doubted: frozenset[str] = frozenset(),
) -> Joined:
    """Return the airfields with ``station_id`` set or ``None``, and the stations, elevations mended.

    Parameters
    ----------
    airfields : sequence of Airfield
        An earlier ``station_id`` is forgotten.
    codes : mapping of str to tuple of str
        The codes of each airfield by its id, the most trusted first.
    stations : sequence of Station
        Each identifier once.
    doubted : frozenset of str
        Airfields whose elevation an earlier join may have set aside. Where the station's is still
        set aside too, nothing new is known, and the airfield's stays unknown.
    """
    tally = Tally()
    near = _near(_by_code(airfields, codes, stations), airfields, stations, tally)
    pairs = _settle(near, airfields, stations, tally)
    fields: list[Airfield] = [replace(a, station_id=None) if a.station_id is not None else a for a in airfields]
    places = list(stations)
    for match in pairs:
        airfield, station = airfields[match.field], stations[match.station]
        field_ft, station_ft = _elevations_ft(airfield, station, tally)
        if station_ft is None and field_ft is not None and airfield.id in doubted:
            tally.add(
                "changed", "elevation contradicted the station's before: still taken as unknown", [airfield.id]
            )
            field_ft = None
        fields[match.field] = replace(airfield, station_id=station.id, elevation_ft=field_ft)
        if station_ft != station.elevation_ft:
            places[match.station] = replace(station, elevation_ft=station_ft)
    _doubt_the_highest(places, tally)
    alone = [a.id for a in fields if a.station_id is None]
    tally.add("noted", "airfield without a station of its own", alone)
    report = ImportReport(
        source="airfields and stations, joined",
        read=(("airfields", len(airfields)), ("stations", len(stations))),
        kept=(("airfields with a station of their own", len(pairs)),),
        findings=tally.findings(),
    )
    return Joined(airfields=tuple(fields), stations=tuple(places), report=report)


def _by_code(
    airfields: Sequence[Airfield], codes: Mapping[str, tuple[str, ...]], stations: Sequence[Station]
) -> list[tuple[int, int, int]]:
    """Return (field, station, rank of the code) for every match by code, best rank of each pair."""
    by_id = {station.id: number for number, station in enumerate(stations)}
    return [
        (number, by_id[code], rank)
        for number, airfield in enumerate(airfields)
        for rank, code in enumerate(codes.get(airfield.id, ()))
        if code in by_id
    ]


def _near(
    found: list[tuple[int, int, int]], airfields: Sequence[Airfield], stations: Sequence[Station], tally: Tally
) -> list[_Match]:
    away_nm = distances_nm(
        np.array([airfields[field].lat_deg for field, _, _ in found]),
        np.array([airfields[field].lon_deg for field, _, _ in found]),
        np.array([stations[station].lat_deg for _, station, _ in found]),
        np.array([stations[station].lon_deg for _, station, _ in found]),
    )
    matches = [
        _Match(
            field=field,
            station=station,
            listed=stations[station].reports or stations[station].forecasts,
            rank=rank,
            distance_nm=float(distance),
        )
        for (field, station, rank), distance in zip(found, away_nm, strict=True)
    ]
    tally.add(
        "dropped",
        f"match by code alone: the station is over {WITHIN_NM:g} NM from the field",
        [
            f"{stations[m.station].id} {m.distance_nm:,.0f} NM from {airfields[m.field].id}"
            for m in matches
            if not m.distance_nm <= WITHIN_NM
        ],
    )
    return [match for match in matches if match.distance_nm <= WITHIN_NM]


def _settle(
    near: list[_Match], airfields: Sequence[Airfield], stations: Sequence[Station], tally: Tally
) -> list[_Match]:
    field_taken: set[int] = set()
    station_taken: set[int] = set()
    pairs = []
    for match in sorted(near, key=lambda match: match.order):
        of_field = f"{stations[match.station].id} at {airfields[match.field].id}"
        if match.station in station_taken:
            tally.add("merged", "station that fits a second airfield: given to the better match", [of_field])
        elif match.field in field_taken:
            tally.add("merged", "second station of one airfield: the better match kept", [of_field])
        else:
            field_taken.add(match.field)
            station_taken.add(match.station)
            pairs.append(match)
    return pairs


def _elevations_ft(airfield: Airfield, station: Station, tally: Tally) -> tuple[float | None, float | None]:
    """Return what to believe of the elevations of a field and of the station at it.

    A station's elevation that was written in feet is put right. Where the two contradict each other
    otherwise, nobody can tell which is wrong, and a height that is too great makes clouds look
    higher than they are: both become unknown.
    """
    field_ft, station_ft = airfield.elevation_ft, station.elevation_ft
    if field_ft is None or station_ft is None or abs(field_ft - station_ft) <= CONTRADICTION_FT:
        return field_ft, station_ft
    listed = station_ft * M_PER_FT
    text = f"{station.id}: {listed:.0f}, field {airfield.id} {field_ft:.0f} ft"
    if abs(listed - field_ft) <= FEET_FOR_METRES_FT:
        tally.add("changed", "station elevation was in feet, not metres: put right", [text])
        return field_ft, listed
    reason = f"elevations of field and station differ by over {CONTRADICTION_FT:.0f} ft: both taken as unknown"
    tally.add("changed", reason, [f"{station.id}: {station_ft:.0f} ft, field {airfield.id} {field_ft:.0f} ft"])
    return None, None


def _doubt_the_highest(stations: list[Station], tally: Tally) -> None:
    for number, station in enumerate(stations):
        if station.elevation_ft is not None and station.elevation_ft > HIGHEST_FT:
            stations[number] = replace(station, elevation_ft=None)
            reason = "station elevation is above all airfields, perhaps in feet: taken as unknown"
            tally.add("changed", reason, [f"{station.id}: {station.elevation_ft:.0f} ft"])
