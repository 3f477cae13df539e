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
