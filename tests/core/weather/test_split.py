"""Where reports end, as interface.md says: =, a blank line, a line that starts a new one."""

from datetime import UTC, datetime

import pytest

from refuge.weather.reports import Forecast, Observation, Unreadable
from refuge.weather.split import decode_any, is_forecast, split_reports

ONE = "KAAA 101553Z 18010KT 10SM CLR"
TWO = "METAR KBBB 101553Z 18010KT 10SM CLR"
TAF = "TAF KCCC 101130Z 1012/1112 P6SM SKC"


@pytest.mark.parametrize(
    "text",
    [
        f"{ONE}\n{TWO}\n{TAF}\n",
        f"{ONE}={TWO}={TAF}=",
        f"{ONE}=\r\n{TWO}=\r\n{TAF}=\r\n",
        f"{ONE}\n\n{TWO}\n\n\n{TAF}",
        f"SAUS70 KWBC 101600\n{ONE}\n{TWO}\n000\nFTUS41 KOKX 101130 AAA\nTAFCCC\n{TAF}",
        f"2022/10/10 15:53\n{ONE}\n\n2022/10/10 15:54\n{TWO}\n\n{TAF}\nNNNN",
        f"\x01123\nSAUS70 KWBC 101600\nMTRAAA\n{ONE}\n{TWO}\n{TAF}\x03",
        f"  {ONE}\n  {TWO}\n  {TAF}",
    ],
)
def test_ends_of_reports_and_headings(text: str) -> None:
    assert split_reports(text) == [ONE, TWO, TAF]


def test_indented_lines_and_change_groups_continue_a_report() -> None:
    taf = (
        "TAF AMD\nKHPN 200931Z 2010/2106 6SM BR OVC010\n     FM201030 2SM BR OVC004\n"
        "       TEMPO 2011/2012 1/2SM FG"
    )
    other = (
        "KJFK 251341Z 2514/2618 05006KT P6SM BKN018\nFM251600 P6SM OVC025\nBECMG 2520/2522 SCT030\n"
        "PROB30 2602/2604 2SM"
    )
    assert split_reports(f"{taf}=\n{other}=\n") == [taf, f"TAF AMD\n{other}"]


def test_a_line_that_begins_with_an_element_continues_a_report() -> None:
    report = "METAR EAAA 101550Z 18010KT 9999 FEW008\nSCT015 BKN035 18/12 Q1013"
    assert split_reports(f"{report}=\n{ONE}") == [report, ONE]


def test_a_bad_line_spoils_no_neighbour() -> None:
    assert split_reports(f"{ONE}\nKXXX is closed\n{TWO}") == [ONE, "KXXX is closed", TWO]


def test_keywords_alone_hold_until_the_next_heading() -> None:
    text = (
        "FTAK31 PANC 061909 AAA\nTAF AMD\nPAGK 061909Z 061918 P6SM SKC=\nPAKN 061909Z 061918 P6SM SKC=\n"
        f"SAAK31 PANC 061900\n{ONE}="
    )
    assert split_reports(text) == [
        "TAF AMD\nPAGK 061909Z 061918 P6SM SKC",
        "TAF AMD\nPAKN 061909Z 061918 P6SM SKC",
        ONE,
    ]


@pytest.mark.parametrize("text", ["", "\n\n", "TAF\n", "==", "SAUS70 KWBC 101600\nNIL=\n"])
def test_headings_alone_give_no_report(text: str) -> None:
    assert split_reports(text) == []


@pytest.mark.parametrize(
    ("raw", "forecast"),
    [
        (ONE, False),
        (TWO, False),
        (TAF, True),
        ("KCCC 101130Z 1012/1112 P6SM SKC", True),
        ("COR KCCC 101130Z 1012/1112 P6SM SKC", True),
        ("KCCC AMD 101130Z 1012/1112 P6SM SKC", True),
        ("METAR EAAA 101550Z 1012/1112", False),
        ("EAAA 101550Z 18010KT 9999/8000", False),
        ("", False),
    ],
)
def test_a_validity_without_keyword_means_taf(raw: str, forecast: bool) -> None:
    assert is_forecast(raw) == forecast


def test_each_report_is_read_as_what_it_is() -> None:
    received_at = datetime(2022, 10, 10, 16, tzinfo=UTC)
    kinds = [type(decode_any(raw, received_at=received_at)) for raw in (ONE, TWO, TAF, "KXXX is closed")]
    assert kinds == [Observation, Observation, Forecast, Unreadable]
