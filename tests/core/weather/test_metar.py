"""One report's text to one observation: header, times, trend, and what doubts do to ``adverse``."""

from datetime import UTC, datetime, timedelta

import pytest

from refuge.weather.category import category
from refuge.weather.metar import decode_observation
from refuge.weather.reports import Observation, Unreadable
from refuge.weather.sky import CeilingAt, KnownVisibility, UnknownCeiling, UnknownVisibility
from refuge.weather.wind import UnknownWind

RECEIVED_AT = datetime(2022, 10, 10, 16, tzinfo=UTC)


def observed(raw: str, received_at: datetime = RECEIVED_AT) -> Observation:
    value = decode_observation(raw, received_at=received_at)
    assert isinstance(value, Observation), value
    return value


@pytest.mark.parametrize(
    ("group", "received_at", "observed_at"),
    [
        # style.md 4: the library reads these a month off, or not at all.
        ("010000Z", datetime(2022, 2, 28, 23, 58, tzinfo=UTC), datetime(2022, 3, 1, tzinfo=UTC)),
        ("312350Z", datetime(2022, 1, 1, 0, 10, tzinfo=UTC), datetime(2021, 12, 31, 23, 50, tzinfo=UTC)),
        ("290010Z", datetime(2024, 2, 29, 1, tzinfo=UTC), datetime(2024, 2, 29, 0, 10, tzinfo=UTC)),
        ("292355Z", datetime(2024, 3, 1, 0, 5, tzinfo=UTC), datetime(2024, 2, 29, 23, 55, tzinfo=UTC)),
        ("312400Z", datetime(2022, 11, 1, 0, 5, tzinfo=UTC), datetime(2022, 11, 1, tzinfo=UTC)),
        # Further ahead than clocks are wrong: an old report must not look like one to come.
        ("252000Z", datetime(2022, 10, 10, 16, tzinfo=UTC), datetime(2022, 9, 25, 20, tzinfo=UTC)),
        ("122000Z", datetime(2022, 10, 10, 16, tzinfo=UTC), datetime(2022, 9, 12, 20, tzinfo=UTC)),
        ("311200Z", datetime(2022, 10, 22, 3, tzinfo=UTC), datetime(2022, 8, 31, 12, tzinfo=UTC)),
    ],
)
def test_time_is_resolved_against_the_receipt(group: str, received_at: datetime, observed_at: datetime) -> None:
    assert observed(f"KAAA {group} 10SM CLR", received_at).observed_at == observed_at


@pytest.mark.parametrize(
    "raw",
    [
        "",
        " ",
        "METAR",
        "KAAA",
        "METAR KAAA",
        "KAAA 1015Z 10SM",
        "KAAA 320000Z 10SM CLR",
        "KAAA 102460Z 10SM CLR",
        "KAAA 102401Z 10SM CLR",
        "10SM CLR",
        "TAF KAAA 101130Z 1012/1112 P6SM SKC",
        "KAAA 101130Z 1012/1112 P6SM SKC",
        "\x00",
        "AUXX",
        "SKY OBS",
    ],
)
def test_what_is_no_report_is_unreadable(raw: str) -> None:
    value = decode_observation(raw, received_at=RECEIVED_AT)
    assert isinstance(value, Unreadable)
    assert value.raw == raw
    assert value.error


def test_header_words() -> None:
    value = observed("SPECI COR KAAA 101553Z AUTO 18010KT 10SM CLR 18/12 A2992 RMK AO2 $=")
    assert (value.kind, value.station, value.auto, value.corrected) == ("SPECI", "KAAA", True, True)
    assert value.remarks == "AO2 $"
    assert value.unread == ()
    assert (value.temperature_c, value.dew_point_c) == (18, 12)
    assert value.pressure_hpa == pytest.approx(1013.2, abs=0.1)
    assert observed("METAR KAAA COR 101553Z 18010KT 10SM CLR").corrected
    assert observed("METAR KAAA 101553Z 18010KT 10SM CLR").corrected is False


def test_lower_case_and_no_break_spaces_are_read() -> None:
    value = observed("metar kaaa\u00a0101553z 18010kt 2sm br ovc008 18/17 a2992")
    assert value.body.ceiling == CeilingAt(ft_agl=800)
    assert value.unread == ()


@pytest.mark.parametrize("rest", ["NIL", "NIL=", "NIL 10SM CLR", "18010KT 9999 NIL FEW040"])
def test_nil_says_nothing_and_is_no_error(rest: str) -> None:
    value = observed(f"METAR KAAA 101553Z {rest}")
    assert value.nil
    assert category(value.body.ceiling, value.body.visibility) == "UNKNOWN"
    assert isinstance(value.adverse.ceiling, UnknownCeiling)
    assert isinstance(value.adverse.visibility, UnknownVisibility)
    assert isinstance(value.adverse.wind, UnknownWind)


def test_an_unread_token_makes_ceiling_and_visibility_unknown() -> None:
    value = observed("KAAA 101553Z 18010KT 3SM WHAT BKN015 18/12 A2992")
    assert value.unread == ("WHAT",)
    assert value.body.ceiling == CeilingAt(ft_agl=1500)
    assert isinstance(value.adverse.ceiling, UnknownCeiling)
    assert value.adverse.ceiling.at_best_ft_agl == 1500
    assert isinstance(value.adverse.visibility, UnknownVisibility)
    assert value.adverse.visibility.at_best_sm == 3
    assert category(value.adverse.ceiling, value.adverse.visibility) == "UNKNOWN"


def test_lifr_stays_lifr_beside_an_unread_token() -> None:
    value = observed("KAAA 101553Z 18010KT 1/4SM FG WHAT OVC002 18/18 A2992")
    assert value.adverse.ceiling == CeilingAt(ft_agl=200)
    assert value.adverse.visibility == KnownVisibility(sm=0.25)


def test_a_floor_says_nothing_of_the_best() -> None:
    visibility = observed("KAAA 101553Z 18010KT 9999 WHAT BKN015 18/12 Q1013").adverse.visibility
    assert isinstance(visibility, UnknownVisibility)
    assert visibility.at_best_sm is None


def test_two_reports_joined_are_not_taken_for_one() -> None:
    value = observed("KAAA 101553Z 18010KT 10SM CLR 18/12 A2992 KBBB 101553Z 19010KT 8SM SKC 17/12 A2993")
    assert {"KBBB", "101553Z"} <= set(value.unread)
    assert category(value.adverse.ceiling, value.adverse.visibility) == "UNKNOWN"


def test_nosig_and_trend() -> None:
    assert observed("EAAA 101550Z 18010KT CAVOK 18/12 Q1013 NOSIG").nosig
    value = observed("EAAA 101550Z 18010KT CAVOK 18/12 Q1013 NOSIG TEMPO 2000 BR")
    assert not value.nosig
    assert len(value.trend) == 1


def test_trend_tokens_do_not_touch_the_body() -> None:
    """decoding.md M14: `TEMPO 2000 SHRA BKN012 OVC040TCU` is the trend."""
    value = observed("EAAA 101550Z 18010KT 9999 SCT030 14/13 Q1016 TEMPO 2000 SHRA BKN012 OVC040TCU RMK X")
    assert category(value.adverse.ceiling, value.adverse.visibility) == "VFR"
    (group,) = value.trend
    assert group.ceiling == CeilingAt(ft_agl=1200)
    assert group.weather == ("SHRA",)
    assert (group.start, group.end) == (value.observed_at, value.observed_at + timedelta(hours=2))


def at(hour: int, minute: int = 0) -> datetime:
    return datetime(2022, 10, 10, hour, minute, tzinfo=UTC)


@pytest.mark.parametrize(
    ("trend", "kind", "start", "end"),
    [
        ("BECMG FM1600 TL1640 2000", "BECMG", at(16), at(16, 40)),
        ("BECMG AT1630 2000", "BECMG", at(16, 30), at(16, 30)),
        ("BECMG TL1640 2000", "BECMG", at(15, 50), at(16, 40)),
        ("TEMPO FM1630 2000", "TEMPO", at(16, 30), at(17, 50)),
        ("TEMPO 1600/1730 2000", "TEMPO", at(16), at(17, 30)),
        ("PROB30 TEMPO TL1700 2000", "TEMPO", at(15, 50), at(17)),
        ("INTER 1600/1700 2000", "INTER", at(16), at(17)),
        ("PROB40 2000", "PROB", at(15, 50), at(17, 50)),
        ("FM1630 18010KT 2000", "FM", at(16, 30), at(17, 50)),
        ("TEMPO FM2400 2000", "TEMPO", at(0) + timedelta(days=1), at(0) + timedelta(days=1)),
        ("TEMPO FM0030 2000", "TEMPO", at(0, 30) + timedelta(days=1), at(0, 30) + timedelta(days=1)),
    ],
)
def test_trend_times(trend: str, kind: str, start: datetime, end: datetime) -> None:
    """Annex 3, appendix 5: FM, TL and AT with hours and minutes; two hours otherwise (from memory)."""
    (group,) = observed(f"EAAA 101550Z 18010KT 9999 SCT030 14/13 Q1016 {trend}").trend
    assert (group.kind, group.start, group.end) == (kind, start, end)
    assert group.visibility is not None
    assert group.unread == ()


@pytest.mark.parametrize("time", ["FM2575", "AT2401", "2560/1700"])
def test_a_trend_time_that_is_none_is_unread(time: str) -> None:
    (group,) = observed(f"EAAA 101550Z 18010KT 9999 SCT030 14/13 Q1016 TEMPO {time} 2000").trend
    assert group.unread == (time,)


def test_an_australian_trend() -> None:
    """YBBN, as collected among odd reports: FM and INTER in the trend."""
    raw = (
        "METAR YBBN 101530Z 15010KT 9999 SCT013 BKN028 22/19 Q1018 FM1630 16011KT 9999 -DZ FEW010 BKN015 "
        "INTER 1630/1700 16020G30KT 3000 SHRA BKN010 TEMPO 1700/1730 2000 DZ BKN010"
    )
    assert [group.kind for group in observed(raw).trend] == ["FM", "INTER", "TEMPO"]


def test_the_recent_weather_of_m15_is_read_wherever_it_stands() -> None:
    value = observed("VGEG 101550Z 33010KT 4000 RERA SCT016 FEW028CB OVC100 27/25 Q1008 NOSIG")
    assert value.body.weather == ("RERA",)
    assert value.unread == ()


def test_weather_not_observed_is_for_automation_alone() -> None:
    """decoding.md M6 (WMO-No. 306, 15.8): w'w' is // when AUTO cannot observe it."""
    assert observed("EAAA 101550Z AUTO 22006KT 9999 // BKN010 14/13 Q1004").unread == ()
    assert observed("EAAA 101550Z 22006KT 9999 // BKN010 14/13 Q1004").unread == ("//",)
