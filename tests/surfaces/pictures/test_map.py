"""The map under a picture: land where it is, seen from anywhere, and no line across it that is not there."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure
from shapely.geometry import Polygon

from refuge.coast import Coast
from refuge.gazetteer.coasts import world_coast
from refuge.render.picture_map import Frame, draw_ground, frame_around, land_in, lines_in

NOTHING = Coast(land=(), coasts=(), borders=(), said="nothing")


def frame(lat_deg: float, lon_deg: float, across_deg: float = 2.0) -> Frame:
    """Return a frame about a place, twice so many degrees of latitude high."""
    lats = np.array([lat_deg, np.clip(lat_deg - across_deg, -90, 90), np.clip(lat_deg + across_deg, -90, 90)])
    return frame_around(lats, np.full(3, lon_deg), width_pt=500.0, least_pt=300.0, most_pt=330.0)


def share_of_land(view: Frame) -> float:
    whole = (view.east_nm - view.west_nm) * (view.north_nm - view.south_nm)
    return sum(_area(path.to_polygons()) for path in land_in(view, world_coast().land)) / whole


def _area(rings: Sequence[Any]) -> float:
    """Return the area of an outer ring less its holes."""
    areas = [float(Polygon(ring).area) for ring in rings]
    return areas[0] - sum(areas[1:])


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "low", "high"),
    [
        # Common knowledge, no source: any atlas shows it.
        (39.0, -98.0, 1.0, 1.0),  # Kansas: no coast in sight
        (62.0, 100.0, 1.0, 1.0),  # Siberia
        (23.0, 10.0, 1.0, 1.0),  # the Sahara
        (-25.0, 134.0, 1.0, 1.0),  # the middle of Australia
        (-88.0, 30.0, 1.0, 1.0),  # around the South Pole
        (67.5, 179.5, 0.3, 1.0),  # Chukotka, on both sides of 180 degrees
        (89.0, 0.0, 0.0, 0.0),  # around the North Pole: sea
        (-40.0, -120.0, 0.0, 0.0),  # the South Pacific, opposite to Asia
        (-35.0, -105.0, 0.0, 0.0),  # the same, opposite to China
        (42.0, 50.7, 0.0, 0.5),  # the Caspian Sea, a hole in the land
        (50.9, 0.0, 0.3, 0.8),  # the Channel: both
    ],
)
def test_land_is_where_it_is(lat_deg: float, lon_deg: float, low: float, high: float) -> None:
    assert low - 0.001 <= share_of_land(frame(lat_deg, lon_deg, 1.0)) <= high + 0.001


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg"), [(-17.0, 180.0), (66.0, 180.0), (89.5, 0.0), (-89.5, 0.0), (51.0, 0.0)]
)
def test_no_line_is_longer_than_the_data_have_them(lat_deg: float, lon_deg: float) -> None:
    """Steps of the 1:50,000,000 data are short; a line across the map would be as long as the map."""
    view = frame(lat_deg, lon_deg, 5.0)
    coast = world_coast()
    parts = lines_in(view, (*coast.coasts, *coast.borders))
    for part in parts:
        assert view.holds(part[:, 0], part[:, 1]).all() or np.allclose(
            part, np.clip(part, (view.west_nm, view.south_nm), (view.east_nm, view.north_nm))
        )
        assert np.hypot(*np.diff(part, axis=0).T).max() < 120.0
    assert parts or lat_deg > 85.0 or lat_deg < -85.0


def test_a_frame_holds_what_it_is_made_for_wherever_that_is() -> None:
    for lat, lon in (
        ([-17.0, -16.0], [178.0, -178.0]), ([89.0, 88.5], [10.0, -170.0]), ([10.0, 10.0], [20.0, 20.0]),
        ([0.0, 0.0], [0.0, 180.0]),
    ):  # fmt: skip
        lats, lons = np.array(lat), np.array(lon)
        view = frame_around(lats, lons, width_pt=500.0, least_pt=200.0, most_pt=330.0)
        assert view.holds(*view.plane(lats, lons)).all()
        assert 200.0 <= view.height_pt <= 330.0
        up_nm = view.north_nm - view.south_nm
        assert view.height_pt / up_nm == pytest.approx(view.scale_pt), "a mile up is as long as a mile across"


def test_miles_on_the_map_are_miles() -> None:
    """One minute of latitude is 1.0 NM within half a per cent (1,852 m by definition; WGS84 has 1,843 to 1,862)."""
    view = frame(50.0, 10.0)
    x, y = view.plane(np.array([50.5]), np.array([10.0]))
    x0, y0 = view.plane(np.array([49.5]), np.array([10.0]))
    assert np.hypot(x - x0, y - y0)[0] == pytest.approx(60.0, rel=0.006)


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg"), [(44.0, -38.0), (-17.0, 179.9), (89.9, 0.0), (-89.9, 0.0), (0.0, 0.0)]
)
@pytest.mark.parametrize("across_deg", [0.01, 2.0, 40.0])
def test_degrees_stand_at_the_edges(lat_deg: float, lon_deg: float, across_deg: float) -> None:
    view = frame(lat_deg, lon_deg, across_deg)
    panel = Figure().add_axes((0, 0, 1, 1))
    draw_ground(panel, view, NOTHING)
    labels = [label.get_text() for label in (*panel.get_xticklabels(), *panel.get_yticklabels())]
    assert labels
    assert all(text.rsplit(" ", 1)[1] in {"N", "S", "E", "W"} for text in labels)
