"""Headings by compass, turning errors, timed turns and bank, against tables and by law."""

import csv
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.aircraft.airframe import CompassCard
from refuge.earth import Position
from refuge.errors import InputError
from refuge.files.coefficients import magnetic_model
from refuge.flight.compass import (
    DIP_EQUATOR_DEG,
    Compass,
    Heading,
    Side,
    Variation,
    compass_of,
    roll_out_reading_deg,
    standard_rate_bank_deg,
    timed_turn,
    turning_error_deg,
    variation_at,
    variation_text,
)
from refuge.magnetism import field_at

REFERENCE = Path(__file__).resolve().parents[3] / "fixtures" / "reference"
IN_DATES = datetime(2026, 3, 10, 15, tzinfo=UTC)
CARD = CompassCard(
    for_deg_mag=(360, 45, 90, 135, 180, 225, 270, 315),
    steer_deg=(356, 43, 92, 139, 183, 226, 268, 312),
    steer_radios_off_deg=(358, 45, 92, 137, 182, 225, 268, 313),
    source="invented",
)

headings = st.floats(0.0, 360.0)
sides = st.sampled_from(["left", "right"])


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="") as file:
        return list(csv.DictReader(file))


def apart(first: float, second: float) -> float:
    return abs((first - second + 180.0) % 360.0 - 180.0)


def compass(variation_deg_e: float | None, card: CompassCard | None = None) -> Compass:
    return compass_of(Variation(deg_e=variation_deg_e, said="given"), card)


@pytest.mark.parametrize("row", rows("compass_headings.csv"), ids=lambda row: row["id"])
def test_from_true_to_compass(row: dict[str, str]) -> None:
    rose = replace(compass(float(row["variation_deg_e"])), correction_deg=(float(row["correction_deg"]),))
    shown = rose.reading(float(row["track_deg_true"]) + float(row["wca_deg"]))
    assert shown is not None
    assert float(shown) == pytest.approx(float(row["compass_deg"]))


@pytest.mark.parametrize("row", rows("compass_turns.csv"), ids=lambda row: row["id"])
def test_where_to_roll_out(row: dict[str, str]) -> None:
    side: Side = "left" if row["side"] == "left" else "right"
    shown = roll_out_reading_deg(float(row["lat_deg"]), float(row["to_deg"]), side)
    assert shown is not None
    assert apart(shown, float(row["roll_out_deg"])) < 1e-9


@pytest.mark.parametrize("row", rows("timed_turns.csv"), ids=lambda row: row["id"])
def test_timed_turns(row: dict[str, str]) -> None:
    turn = timed_turn(float(row["from_deg"]), float(row["to_deg"]))
    assert (turn.side, turn.degrees, turn.seconds) == (row["side"], float(row["degrees"]), float(row["seconds"]))


@pytest.mark.parametrize("row", rows("standard_rate_bank.csv"), ids=lambda row: row["id"])
def test_bank_at_standard_rate(row: dict[str, str]) -> None:
    assert standard_rate_bank_deg(float(row["tas_kt"])) == pytest.approx(float(row["bank_deg"]), abs=0.05)


def test_the_column_for_radios_off_counts_where_the_card_has_one() -> None:
    """By eye: 315 magnetic and 313 on the card; between 315 and 360 halfway, -2 and -2; over north likewise."""
    rose = compass(0.0, CARD)
    assert [float(rose.correction(mag)) for mag in (315, 337.5, 360, 0, 22.5, 90)] == [-2, -2, -2, -2, -1, 2]
    assert "radios off" in rose.deviation_said
    one_column = compass(0.0, replace(CARD, steer_radios_off_deg=None))
    assert [float(one_column.correction(mag)) for mag in (315, 337.5, 0)] == [-3, -3.5, -4]
    assert "no column for radios off" in one_column.deviation_said


def test_without_a_card_the_deviation_is_not_applied_and_that_is_said() -> None:
    rose = compass(-10.0)
    shown = rose.reading([350.0, 0.0])
    assert shown is not None
    assert shown.tolist() == [0.0, 10.0]
    assert "not applied" in rose.deviation_said
    assert not rose.has_card


@given(st.lists(headings, min_size=1, max_size=20), st.floats(-180, 180), st.sampled_from([None, CARD]))
def test_a_compass_read_backwards_is_the_heading_again(
    true: list[float], variation: float, card: CompassCard | None
) -> None:
    rose = compass(variation, card)
    shown = rose.reading(true)
    assert shown is not None
    for heading, reading in zip(true, shown, strict=True):
        back = rose.true(Heading(deg=float(reading), reference="compass"))
        assert back is not None
        assert apart(back, heading) < 1e-9


def test_a_true_heading_needs_no_compass() -> None:
    assert compass(None).true(Heading(deg=360.0, reference="true")) == 0.0


def test_where_the_variation_is_not_known_nothing_is_by_compass() -> None:
    rose = compass(None, CARD)
    assert rose.magnetic(90.0) is None
    assert rose.reading(90.0) is None
    assert rose.true(Heading(deg=90.0, reference="compass")) is None


@given(headings, headings)
def test_a_turn_is_the_shorter_way_and_ends_on_the_heading(now: float, wanted: float) -> None:
    turn = timed_turn(now, wanted)
    assert 0.0 <= turn.degrees <= 180.0
    assert turn.seconds <= 60.0
    signed = turn.degrees if turn.side == "right" else -turn.degrees
    assert apart(now + signed, wanted) < 1e-9


@given(st.floats(DIP_EQUATOR_DEG, 90.0), headings, sides)
def test_hemispheres_exchange_the_senses(lat: float, heading: float, side: Side) -> None:
    north, south = turning_error_deg(lat, heading), turning_error_deg(-lat, heading)
    assert north is not None
    assert south is not None
    assert north == pytest.approx(-south)
    assert abs(north) <= 15.0 + lat / 2.0
    shown = roll_out_reading_deg(lat, heading, side)
    assert shown is not None
    assert apart(shown, heading) == pytest.approx(abs(north), abs=1e-9)


def test_near_the_magnetic_equator_nothing_is_advised() -> None:
    assert turning_error_deg(12.9, 360.0) is None
    assert roll_out_reading_deg(-12.9, 360.0, "right") is None
    assert roll_out_reading_deg(40.0, 360.0, "none") is None


def test_beyond_that_latitude_the_dip_has_the_sign_of_the_hemisphere() -> None:
    lon = np.arange(-180.0, 180.0)
    for year in (2025.0, 2030.0):
        assert (field_at(magnetic_model(), DIP_EQUATOR_DEG, lon, 0.0, year).inclination_deg > 0.0).all()
        assert (field_at(magnetic_model(), -DIP_EQUATOR_DEG, lon, 0.0, year).inclination_deg < 0.0).all()


def test_a_variation_of_the_model_says_where_it_comes_from() -> None:
    """43 N 93 E, 65 km, 2025.0: 0.50 E (official test values of WMM2025)."""
    found = variation_at(
        magnetic_model(), Position(lat_deg=43.0, lon_deg=93.0), 65_000 / 0.3048, datetime(2025, 1, 1, tzinfo=UTC)
    )
    assert found.deg_e == pytest.approx(0.50, abs=0.005)
    assert found.said == "variation 0.5 E (WMM-2025)"
    assert found.warnings == ()


@pytest.mark.parametrize("year", [2022, 2031])
def test_outside_the_dates_of_the_model_there_is_a_plain_warning(year: int) -> None:
    found = variation_at(
        magnetic_model(), Position(lat_deg=44.0, lon_deg=-38.0), 6000.0, IN_DATES.replace(year=year)
    )
    assert found.deg_e is not None
    [warning] = found.warnings
    assert warning.startswith("WARNING: the magnetic model WMM-2025 holds from 2025 to 2030, this is ")


def test_near_a_magnetic_pole_a_warning_and_at_it_no_compass_at_all() -> None:
    """Official test values of WMM2025: H 1,504 nT at 89 N 121 W, 2,164 at 80 N 96 W (2025.0)."""
    when = datetime(2025, 1, 1, tzinfo=UTC)
    weak = variation_at(magnetic_model(), Position(lat_deg=80.0, lon_deg=-96.0), 0.0, when)
    assert weak.deg_e is not None
    assert "field is weak" in weak.warnings[0]
    none = variation_at(magnetic_model(), Position(lat_deg=89.0, lon_deg=-121.0), 0.0, when)
    assert none.deg_e is None
    assert "no compass holds here" in none.said


@given(st.floats(65.0, 90.0), st.floats(-180.0, 180.0), st.sampled_from([1, -1]))
def test_what_is_said_follows_the_horizontal_field(lat: float, lon: float, hemisphere: int) -> None:
    """Blackout zone below 2,000 nT, caution zone below 6,000 (WMM technical report)."""
    lat *= hemisphere
    field = field_at(magnetic_model(), lat, lon, 0.0, 2026.0)
    found = variation_at(
        magnetic_model(), Position(lat_deg=lat, lon_deg=lon), 0.0, datetime(2026, 1, 1, tzinfo=UTC)
    )  # fmt: skip
    assert (found.deg_e is None) is bool(field.horizontal_nt < 2000.0)
    assert bool(found.warnings) is bool(2000.0 <= field.horizontal_nt < 6000.0)


def test_variations_as_a_chart_writes_them() -> None:
    assert [variation_text(v) for v in (13.24, -0.5, 0.0)] == ["13.2 E", "0.5 W", "0.0 E"]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"for_deg_mag": (360, 90, 180, 270), "steer_deg": (1, 91, 181, 271)}, "for: must run clockwise"),
        ({"for_deg_mag": CARD.for_deg_mag[::-1]}, "for: must run clockwise"),
        ({"for_deg_mag": (), "steer_deg": (), "steer_radios_off_deg": None}, "for: must run clockwise"),
        ({"steer_deg": (356, 43, 92)}, "steer: has 3 headings, `for` has 8"),
        ({"steer_radios_off_deg": (358, 45, 92, 91, 182, 225, 268, 313)}, "steer_radios_off: must run clockwise"),
        ({"steer_deg": (float("nan"), 43, 92, 139, 183, 226, 268, 312)}, "steer: must run clockwise"),
        ({"steer_deg": (10, 85, 110, 139, 183, 226, 268, 312)}, "steer: corrects by +40, more than 30"),
    ],
    ids=["wide", "backwards", "empty", "short", "ambiguous", "nan", "typo"],
)
def test_a_card_that_cannot_be_is_refused(changes: dict[str, tuple[float, ...] | None], said: str) -> None:
    with pytest.raises(InputError) as caught:
        replace(CARD, **changes)  # type: ignore[arg-type]
    assert f"compass_card.{said}" in caught.value.what
