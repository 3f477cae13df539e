import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.flight.triangle import components_kt, least_minutes, solve, wind_from_components
from tests.core.reference import rows

tracks = st.floats(0, 360)
winds_kt = st.floats(0, 150)


@pytest.mark.parametrize("row", rows("triangle"), ids=lambda row: row["id"])
def test_published_triangles(row: dict[str, str]) -> None:
    found = solve(*(float(row[key]) for key in ("track_deg_true", "tas_kt", "wind_from_deg_true", "wind_kt")))
    assert bool(found.possible) == (row["possible"] == "yes")
    if row["gs_kt"]:
        assert float(found.wca_deg) == pytest.approx(float(row["wca_deg"]), abs=0.05)
        assert float(found.heading_deg_true) == pytest.approx(float(row["heading_deg_true"]), abs=0.05)
        assert float(found.gs_kt) == pytest.approx(float(row["gs_kt"]), abs=0.05)


@pytest.mark.parametrize("row", rows("reach_disc"), ids=lambda row: row["id"])
def test_least_time_in_the_drifting_disc(row: dict[str, str]) -> None:
    track, distance = np.radians(float(row["track_deg_true"])), float(row["distance_nm"])
    found = least_minutes(
        distance * np.sin(track), distance * np.cos(track), float(row["tas_kt"]), float(row["wind_from_deg_true"]),
        float(row["wind_kt"]),
    )  # fmt: skip
    assert float(found) == pytest.approx(float(row["minutes"] or "inf"), abs=0.005)


@given(tracks, st.floats(20, 300), tracks, winds_kt, st.floats(0.1, 300))
def test_the_triangle_and_the_disc_agree(
    track_deg: float, tas_kt: float, from_deg: float, wind_kt: float, distance_nm: float
) -> None:
    """distance / groundspeed is the least time, except that a wind stronger than the TAS has two crossings."""
    found = solve(track_deg, tas_kt, from_deg, wind_kt)
    radians = np.radians(track_deg)
    least = float(
        least_minutes(distance_nm * np.sin(radians), distance_nm * np.cos(radians), tas_kt, from_deg, wind_kt)
    )
    if abs(wind_kt - tas_kt) < 0.1 or 0 <= found.gs_kt < 0.1:
        return  # at the very edge of what is possible digits decide
    if found.possible:
        assert least == pytest.approx(60 * distance_nm / float(found.gs_kt), rel=1e-6)
    else:
        assert least == np.inf


@given(tracks, winds_kt)
def test_components_there_and_back(from_deg: float, wind_kt: float) -> None:
    direction, speed = wind_from_components(*components_kt(from_deg, wind_kt))
    assert float(speed) == pytest.approx(wind_kt, abs=1e-9)
    if wind_kt > 0.01:
        assert np.cos(np.radians(float(direction) - from_deg)) == pytest.approx(1.0, abs=1e-9)
    assert 0 <= direction < 360


def test_arguments_broadcast_and_no_distance_takes_no_time() -> None:
    found = solve(np.array([0.0, 90.0, 180.0])[:, None], 100.0, np.array([0.0, 90.0]), 30.0)
    assert found.gs_kt.shape == found.possible.shape == (3, 2)
    assert float(least_minutes(0.0, 0.0, 100.0, 0.0, 150.0)) == 0.0
    assert float(least_minutes(0.0, 50.0, 100.0, 180.0, 100.0)) == pytest.approx(15.0)  # TAS equals wind, downwind
    assert solve(np.zeros(0), 100.0, 0.0, 30.0).gs_kt.size == 0


def test_a_direction_a_hair_west_of_north_is_north_and_not_360() -> None:
    direction, _ = wind_from_components(1e-16, -10.0)
    assert float(direction) == 0.0
    assert float(solve(360.0, 100.0, 360.0, 0.0).heading_deg_true) == 0.0
