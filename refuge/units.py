"""Conversions between trade units and SI, each exact by definition or named with its source; numbers in words."""

from fractions import Fraction

M_PER_NM = 1852.0
"""International nautical mile, exact (International Hydrographic Conference, Monaco 1929)."""
M_PER_SM = 1609.344
"""International statute mile, exact (5,280 international feet)."""
M_PER_FT = 0.3048
"""International foot, exact (agreement of 1959)."""
KT_PER_MPS = 3600.0 / M_PER_NM
"""Knots in one metre a second, exact."""
KT_PER_KMH = 1000.0 / M_PER_NM
"""Knots in one kilometre an hour, exact."""
HPA_PER_INHG = 33.863886
"""Hectopascals in one inch of mercury at 0 C (NIST SP 811, appendix B.8)."""


def m_from_nm(x_nm: float) -> float:
    """Return metres from nautical miles."""
    return x_nm * M_PER_NM


def nm_from_m(x_m: float) -> float:
    """Return nautical miles from metres."""
    return x_m / M_PER_NM


def ft_from_m(x_m: float) -> float:
    """Return feet from metres."""
    return x_m / M_PER_FT


def kt_from_mps(x_mps: float) -> float:
    """Return knots from metres a second."""
    return x_mps * KT_PER_MPS


def kt_from_kmh(x_kmh: float) -> float:
    """Return knots from kilometres an hour."""
    return x_kmh * KT_PER_KMH


def hpa_from_inhg(x_inhg: float) -> float:
    """Return hectopascals from inches of mercury."""
    return x_inhg * HPA_PER_INHG


def c_from_f(x_f: float) -> float:
    """Return degrees Celsius from degrees Fahrenheit, exact by definition."""
    return (x_f - 32.0) * 5.0 / 9.0


def miles(sm: float) -> str:
    """Return miles as the trade writes them: ``1/4``, ``2 1/2``, ``10``; else to one place (``6.2``)."""
    whole, rest = divmod(Fraction(sm).limit_denominator(16), 1)
    if abs(float(whole + rest) - sm) > 1e-6:
        return f"{sm:.1f}" if sm >= 0.1 else f"{sm:.2f}"
    return " ".join(part for part in (str(whole) if whole or not rest else "", str(rest) if rest else "") if part)


def celsius(x_c: float) -> str:
    """Return a temperature as it is written, to a tenth where it is no whole number: ``-5``, ``7.9``."""
    return f"{round(x_c, 1) + 0.0:g}"
