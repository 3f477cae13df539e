import pytest

from refuge import units


# Exact by definition (reference.md 2.1 for the mile); the inch of mercury from NIST SP 811, appendix B.8
@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (units.m_from_nm(1.0), 1852.0),
        (units.nm_from_m(1852.0), 1.0),
        (units.ft_from_m(0.3048), 1.0),
        (units.kt_from_mps(1852 / 3600), 1.0),
        (units.kt_from_kmh(1.852), 1.0),
        (units.hpa_from_inhg(29.92), 1013.21),
        (units.M_PER_SM, 1609.344),
        (units.m_from_nm(0.0), 0.0),
    ],
)
def test_conversions(value: float, expected: float) -> None:
    assert value == pytest.approx(expected, rel=1e-5)


# reportable values: AIM 7-1-16 (reference.md 2.1); 50 m are 0.031 miles
@pytest.mark.parametrize(
    ("sm", "written"),
    [
        (0.0, "0"), (1 / 16, "1/16"), (0.125, "1/8"), (0.25, "1/4"), (1.0, "1"), (1.75, "1 3/4"), (2.5, "2 1/2"),
        (10.0, "10"), (6.2137, "6.2"), (0.031, "0.03"),
    ],
)  # fmt: skip
def test_miles_are_written_in_the_trades_fractions(sm: float, written: str) -> None:
    assert units.miles(sm) == written


@pytest.mark.parametrize(
    ("x_c", "written"), [(-5.0, "-5"), (7.94269, "7.9"), (-17.7197, "-17.7"), (-0.04, "0"), (15.5, "15.5")]
)
def test_temperatures_are_written_to_a_tenth(x_c: float, written: str) -> None:
    """The rounding of a reader: half a tenth at most (arithmetic)."""
    assert units.celsius(x_c) == written
