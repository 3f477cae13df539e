"""Bounds on ways leave in too much, never too little: who is in reach is never missing."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from refuge.earth import Position
from refuge.flight.arrival import arrive, descents_min
from refuge.flight.bounds import Points, candidates, certain_window
from refuge.flight.starts import Starts
from refuge.flight.triangle import components_kt
from refuge.flight.wind_fields import WindFields
from refuge.flight.winds import Later, WindSites
from tests.core.flight import situations as s

FIELDS = 60


def winds(chance: np.random.Generator, centre: tuple[float, float], strongest_kt: float) -> WindSites:
    """Return some sites around a place at random, with winds of two times."""
    sites = int(chance.integers(1, 12))
    early, late = (
        components_kt(chance.uniform(0, 360, sites), chance.uniform(0, strongest_kt, sites)) for _ in range(2)
    )
    none = np.zeros(sites)
    return WindSites(
        lat_deg=np.clip(centre[0] + chance.uniform(-4, 4, sites), -90, 90),
        lon_deg=(centre[1] + chance.uniform(-8, 8, sites) + 180.0) % 360.0 - 180.0,
        east_kt=early[0], north_kt=early[1], temperature_c=none, has_temperature=none > 0,
        later=Later(east_kt=late[0], north_kt=late[1], temperature_c=none) if chance.integers(2) else None,
    )  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.sampled_from([0.0, 41.0, -33.0, 71.0, 88.5]),
    st.sampled_from([0.0, 179.6]),
    st.sampled_from([5.0, 40.0, 130.0]),
    st.sampled_from([25.0, 60.0, 125.0]),
)
def test_bounds_hold_whatever_the_wind(
    seed: int, lat_deg: float, lon_deg: float, strongest_kt: float, information_min: float
) -> None:
    chance = np.random.default_rng(seed)
    rows = 20
    fields = tuple(winds(chance, (lat_deg, lon_deg), strongest_kt) for _ in range(int(chance.integers(1, 3))))
    both = WindFields(fields=fields, level=fields[0], temperatures=fields[0], said=())
    starts = Starts(
        lat_deg=np.clip(lat_deg + np.linspace(-0.5, 0.5, rows), -90.0, 90.0),
        lon_deg=(lon_deg + np.linspace(-1.0, 1.0, rows) + 180.0) % 360.0 - 180.0,
        turn_s=s.NOW.timestamp() + 60.0 * np.arange(float(rows)), wind=np.zeros(rows, dtype=np.int64),
        share=chance.uniform(0, 1, rows), winds=(both,),
    )  # fmt: skip
    lats = np.clip(lat_deg + chance.uniform(-3, 3, FIELDS), -90.0, 90.0)
    lons = (lon_deg + chance.uniform(-6, 6, FIELDS) + 180.0) % 360.0 - 180.0
    lats[0], lons[0] = starts.lat_deg[3], starts.lon_deg[3]  # one right below
    points = Points.of(
        [s.airfield(f"F{i:02d}", Position(lat_deg=float(lat), lon_deg=float(lon)))
         for i, (lat, lon) in enumerate(zip(lats, lons, strict=True))]
    )  # fmt: skip
    question = s.question(wind=None, lasts=s.endurance(information_min), lowest_safe_ft_amsl=None)
    budget = information_min - question.endurance.recognition_min - question.margin_min

    row, field = (each.ravel() for each in np.indices((rows, FIELDS)))
    arrival = arrive(question, starts.taken(row), lats[field], lons[field], points.ground_ft[field])
    reached = np.flatnonzero((arrival.break_out_min <= budget) & arrival.reach.wind_known)

    found = candidates(question, starts, points, budget - descents_min(question, points.ground_ft))
    place = {pair: i for i, pair in enumerate(zip(found.row.tolist(), found.field.tolist(), strict=True))}
    mine = np.array([place[int(row[i]), int(field[i])] for i in reached], dtype=np.int64)
    if not mine.size:
        return
    certain = certain_window(
        question, starts, found, descents_min(question, points.ground_ft)[found.field], budget
    ).taken(mine)
    assert (arrival.earliest_s[reached] <= certain.earliest_s + 1e-3).all()
    assert (arrival.latest_s[reached] >= certain.latest_s - 1e-3).all()
    assert (arrival.landed_s[reached] >= certain.landed_s - 1e-3).all()
    assert (arrival.start_s[reached] <= certain.start_s + 1e-3).all()
    assert (arrival.end_s[reached] >= certain.end_s - 1e-3).all()
