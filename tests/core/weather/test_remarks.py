"""Remarks that make a report worse (reference.md 2.3, FMH-1 12.7.1), and those that do not."""

import pytest

from refuge.weather.conditions import Conditions
from refuge.weather.remarks import after_remarks
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    Layer,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
)
from refuge.weather.wind import UnknownWind

LAYERS = (
    Layer(amount="FEW", base_ft_agl=800),
    Layer(amount="SCT", base_ft_agl=2000),
    Layer(amount="BKN", base_ft_agl=4000),
)


def remarked(remarks: str | None, *, ceiling: Ceiling = CeilingAt(ft_agl=4000), sm: float = 3.0) -> Conditions:  # noqa: B008
    body = Conditions(
        ceiling=ceiling, visibility=KnownVisibility(sm=sm), wind=UnknownWind(reason=""), layers=LAYERS
    )
    return after_remarks(body, body.visibility, remarks)


@pytest.mark.parametrize(
    ("remarks", "ft_agl"),
    [
        ("CIG 005V010", 500),
        ("AO2 CIG 012V017 SLP123", 1200),
        ("CIG 002 RWY11", 200),
        ("CIG 007 RWY02L CIG 011 RWY20R", 700),
        ("CIG VRB 4-10", 400),  # Canada, hundreds of feet (from memory)
        ("SCT V BKN", 2000),  # [P]: the layer that varies counts
        ("BKN V SCT", 2000),
        ("SCT018 V BKN", 1800),
        ("BKN014 V OVC", 1400),
        ("FU BKN020", 2000),
        ("FG OVC001", 100),
    ],
)
def test_ceiling_counts_at_its_lowest(remarks: str, ft_agl: int) -> None:
    assert remarked(remarks).ceiling == CeilingAt(ft_agl=ft_agl)


@pytest.mark.parametrize(
    "remarks",
    [
        None,
        "",
        "AO2 SLP123",
        "FEW V SCT",
        "FG FEW000",
        "FG SCT000",
        "CIG RAG SLP123",
        "BKN V OVC",
        "CIG 060V080",
        "SC5AC1",
    ],
)
def test_ceiling_stays(remarks: str | None) -> None:
    assert remarked(remarks).ceiling == CeilingAt(ft_agl=4000)


@pytest.mark.parametrize("remarks", ["CHINO", "CHINO RWY06", "CIG MISG", "CLD MISG", "FG BKN///", "CIG LWR E"])
def test_ceiling_becomes_unknown(remarks: str) -> None:
    ceiling = remarked(remarks).ceiling
    assert isinstance(ceiling, UnknownCeiling)
    assert ceiling.at_best_ft_agl == 4000


def test_a_variable_sky_that_fits_no_layer_is_unknown() -> None:
    body = Conditions(
        ceiling=NoCeiling(none_below_ft=None, evidence="FEW008"),
        visibility=KnownVisibility(sm=3.0),
        wind=UnknownWind(reason=""),
    )
    assert isinstance(after_remarks(body, body.visibility, "SCT V BKN").ceiling, UnknownCeiling)


@pytest.mark.parametrize(
    ("remarks", "sm"),
    [
        ("VIS 1/2V2", 0.5),
        ("VIS 2 1/2V4", 2.5),
        ("VIS 1V2 1/2 SLP123", 1),
        ("VIS 2 1/2 RWY11", 2.5),
        ("TWR VIS 1 1/2", 1.5),
        ("SFC VIS 2", 2),
        ("VIS NE 2 1/2", 2.5),
        ("VIS N 2 S 1/2", 0.5),
        ("VIS 3/4SM N", 0.75),
        ("VIS VRB 1 1/2-4", 1.5),
        ("VIS MIN 3000", 3000 / 1609.344),  # Italy (LI.. 2015)
        ("VIS 1600V3200", 1),
        ("VIS NW-NE 2", 2),
    ],
)
def test_visibility_counts_at_its_lowest(remarks: str, sm: float) -> None:
    assert remarked(remarks).visibility == KnownVisibility(sm=sm)


def test_less_than_in_a_remark() -> None:
    assert remarked("VIS M1/4V2").visibility == KnownVisibility(sm=0.25, bound=Bound.LESS_THAN)


@pytest.mark.parametrize(
    "remarks", ["VIS MAR 2 KM", "VIS 10", "VIS SW 15", "VIS HYR NE 1", "VIS VAL INVIS", "VIS 1/3"]
)
def test_visibility_stays(remarks: str) -> None:
    assert remarked(remarks).visibility == KnownVisibility(sm=3.0)


@pytest.mark.parametrize("remarks", ["VISNO", "VISNO RWY06", "VIS MISG PCPN MISG", "VIS LWR SE"])
def test_visibility_becomes_unknown(remarks: str) -> None:
    visibility = remarked(remarks).visibility
    assert isinstance(visibility, UnknownVisibility)
    assert visibility.at_best_sm == 3.0


def test_what_is_lifr_already_stays() -> None:
    """interface.md: unknown unless it is LIFR already."""
    conditions = remarked("VISNO CHINO", ceiling=CeilingAt(ft_agl=400), sm=0.5)
    assert conditions.ceiling == CeilingAt(ft_agl=400)
    assert conditions.visibility == KnownVisibility(sm=0.5)
