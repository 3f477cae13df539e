"""One forecast's text to its groups: headers, periods in both codes, and what is not read."""

from datetime import UTC, datetime

import pytest

from refuge.weather.reports import Forecast, Group, Unreadable
from refuge.weather.sky import CeilingAt, KnownVisibility, NoCeiling
from refuge.weather.taf import decode_forecast

RECEIVED_AT = datetime(2022, 10, 10, 12, tzinfo=UTC)


def at(day: int, hour: int, minute: int = 0, month: int = 10) -> datetime:
    return datetime(2022, month, day, hour, minute, tzinfo=UTC)


def forecast(raw: str, received_at: datetime = RECEIVED_AT) -> Forecast:
    value = decode_forecast(raw, received_at=received_at)
    assert isinstance(value, Forecast), value
    return value


def spans(value: Forecast) -> list[tuple[str, datetime, datetime]]:
    return [(group.kind, group.start, group.end) for group in value.groups]


def only(value: Forecast, kind: str) -> Group:
    (group,) = [group for group in value.groups if group.kind == kind]
    return group


@pytest.mark.parametrize(
    ("head", "marks"),
    [
        ("TAF KAAA", ()),
        ("KAAA", ()),
        ("TAF TAF KAAA", ()),
        ("TAF AMD KAAA", ("amended",)),
        ("TAF COR KAAA", ("corrected",)),
        ("TAF KAAA AMD", ("amended",)),
        ("TAF CCA KAAA", ("corrected",)),
        ("TAF AAA KAAA", ("amended",)),
    ],
)
def test_headers(head: str, marks: tuple[str, ...]) -> None:
    value = forecast(f"{head} 101130Z 1012/1112 18008KT P6SM SKC=")
    assert value.station == "KAAA"
    assert (value.issued_at, value.valid_from, value.valid_to) == (at(10, 11, 30), at(10, 12), at(11, 12))
    assert (value.amended, value.corrected) == ("amended" in marks, "corrected" in marks)
    assert value.unread == ()


@pytest.mark.parametrize(
    ("raw", "nil", "cancelled", "dated"),
    [
        ("TAF KAAA NIL", True, False, False),
        ("TAF KAAA 101130Z NIL=", True, False, False),
        ("TAF AMD KAAA 101130Z 1012/1112 CNL=", False, True, True),
        ("TAF KAAA 101130Z 1012/1112 NIL", True, False, True),
    ],
)
def test_nil_and_cancelled_have_no_groups(raw: str, nil: bool, cancelled: bool, dated: bool) -> None:
    value = forecast(raw)
    assert (value.nil, value.cancelled, value.groups) == (nil, cancelled, ())
    assert (value.valid_from is not None) == dated


@pytest.mark.parametrize(
    "raw",
    [
        "",
        "TAF",
        "TAF KAAA",
        "TAF KAAA 101130Z",
        "TAF KAAA 101130Z P6SM SKC",
        "TAF KAAA 320000Z 1012/1112 P6SM",
        "TAF KAAA 101130Z 1012/1412 P6SM",  # four days: no forecast is made for so long
        "TAF KAAA 101130Z 1012/1012 P6SM",
        "TAF K... NIL",
        "PROB30 INTER",
    ],
)
def test_what_is_no_forecast_is_unreadable(raw: str) -> None:
    value = decode_forecast(raw, received_at=RECEIVED_AT)
    assert isinstance(value, Unreadable)
    assert value.error


def test_periods_of_the_present_code() -> None:
    value = forecast(
        "TAF KAAA 101130Z 1012/1112 18008KT P6SM SCT040 FM101830 20012KT 5SM BR OVC025 "
        "TEMPO 1020/1024 2SM OVC008 PROB40 1100/1104 1/2SM FG VV002 INTER 1102/1104 3000 "
        "BECMG 1104/1106 27010KT"
    )
    assert spans(value) == [
        ("BASE", at(10, 12), at(10, 18, 30)),
        ("FM", at(10, 18, 30), at(11, 12)),
        ("TEMPO", at(10, 20), at(11, 0)),  # hour 24 is midnight (WMO-No. 306, 51.8.1)
        ("PROB", at(11, 0), at(11, 4)),
        ("INTER", at(11, 2), at(11, 4)),
        ("BECMG", at(11, 4), at(11, 6)),
    ]
    assert value.unread == ()


def test_fm_with_hours_and_minutes_alone() -> None:
    value = forecast("TAF KAAA 101130Z 1012/1112 18008KT P6SM SKC FM1559 27010KT P6SM SCT040 FM0200 OVC010")
    assert [group.start for group in value.groups] == [at(10, 12), at(10, 15, 59), at(11, 2)]


def test_an_fm_of_four_figures_that_may_be_day_and_hours_is_not_read() -> None:
    """16Z of the 10th, or 10:16Z of the 11th? Beside periods with days FM has six figures (WMO-No. 306, 51.8.2)."""
    value = forecast("TAF KAAA 101130Z 1012/1112 18008KT P6SM SKC FM1016 27010KT 1SM BR OVC002")
    assert [group.kind for group in value.groups] == ["BASE"]
    assert value.unread == ("FM1016",)


def test_periods_of_the_code_before_2008() -> None:
    """As collected from Alaska in January 2006 (data/feeds): 061918, TEMPO 1904, FM0400."""
    value = forecast(
        "TAF PAGK 061909Z 061918 01006KT P6SM SCT020 BKN040 TEMPO 1904 5SM -SHSN BKN020 "
        "FM0400 01006KT P6SM SCT035 BKN070 TEMPO 0409 BKN035 FM0900 VRB03KT P6SM BKN040 BECMG 0608 01012KT",
        received_at=datetime(2006, 1, 6, 19, 30, tzinfo=UTC),
    )

    def then(day: int, hour: int) -> datetime:
        return datetime(2006, 1, day, hour, tzinfo=UTC)

    assert spans(value) == [
        ("BASE", then(6, 19), then(7, 4)),
        ("TEMPO", then(6, 19), then(7, 4)),
        ("FM", then(7, 4), then(7, 9)),
        ("TEMPO", then(7, 4), then(7, 9)),
        ("FM", then(7, 9), then(7, 18)),
        ("BECMG", then(7, 6), then(7, 8)),
    ]
    assert value.unread == ()


def test_a_validity_of_hours_alone() -> None:
    value = forecast("TAF EAAA 101130Z 1221 18008KT 9999 SCT040 TEMPO 1824 4000")
    assert (value.valid_from, value.valid_to) == (at(10, 12), at(10, 21))
    assert only(value, "TEMPO").end == at(11, 0)


def test_months_and_years_end() -> None:
    """reference.md B31; hour 24 on the last day of the year."""
    value = decode_forecast(
        "TAF KAAA 311730Z 3118/0124 18008KT P6SM SKC TEMPO 3122/3124 2SM BECMG 0106/0108 BKN010",
        received_at=datetime(2021, 12, 31, 18, tzinfo=UTC),
    )
    assert isinstance(value, Forecast)
    assert value.valid_to == datetime(2022, 1, 2, tzinfo=UTC)
    assert only(value, "TEMPO").end == datetime(2022, 1, 1, tzinfo=UTC)
    assert only(value, "BECMG").start == datetime(2022, 1, 1, 6, tzinfo=UTC)
    leap = decode_forecast(
        "TAF KAAA 282330Z 2900/0106 P6SM SKC", received_at=datetime(2024, 2, 28, 23, 40, tzinfo=UTC)
    )
    assert isinstance(leap, Forecast)
    assert (leap.valid_from, leap.valid_to) == (
        datetime(2024, 2, 29, tzinfo=UTC),
        datetime(2024, 3, 1, 6, tzinfo=UTC),
    )


def test_an_old_forecast_is_dated_back_to_a_month_that_has_its_days() -> None:
    value = forecast("TAF KAAA 301103Z 3012/3112 15013KT 8000 OVC008", received_at=at(22, 3))
    assert (value.issued_at, value.valid_to) == (at(30, 11, 3, month=8), at(31, 12, month=8))


def test_a_forecast_without_time_of_issue() -> None:
    """As collected from Alaska (data/feeds): PAED AMD 010021."""
    value = forecast("TAF AMD PAED AMD 100021 VRB04KT 0400 SN SCT015", received_at=at(10, 1))
    assert (value.issued_at, value.valid_from, value.valid_to) == (at(10, 0), at(10, 0), at(10, 21))
    later = forecast("TAF PAED 200021 VRB04KT 0400 SN SCT015", received_at=at(10, 1))
    assert later.valid_from == at(20, 0, month=9)


@pytest.mark.parametrize("minutes", ["FM101860", "FM102501", "FM092300", "FM111200", "FM101500X"])
def test_an_fm_that_is_none_spoils_the_group_that_runs_on(minutes: str) -> None:
    value = forecast(f"TAF KAAA 101130Z 1012/1112 18008KT 1SM OVC005 {minutes} P6SM SKC FM102000 P6SM SKC")
    assert [group.kind for group in value.groups] == ["BASE", "FM"]
    assert value.groups[0].unread == (minutes,)
    assert value.groups[0].end == at(10, 20)


def test_an_fm_before_the_one_that_it_follows_is_none() -> None:
    value = forecast("TAF KAAA 101130Z 1012/1112 P6SM SKC FM102000 1SM OVC005 FM101800 P6SM SKC")
    assert value.unread == ("FM101800",)


@pytest.mark.parametrize("period", ["1012/1012", "1018/1016", "1318/1320", "99/99", "1824", "XXXX"])
def test_a_change_group_without_a_period_that_fits_holds_throughout(period: str) -> None:
    value = forecast(f"TAF KAAA 101130Z 1012/1112 P6SM SKC TEMPO {period} 1SM OVC005")
    tempo = only(value, "TEMPO")
    assert (tempo.start, tempo.end) == (at(10, 12), at(11, 12))
    assert tempo.unread
    assert tempo.ceiling == CeilingAt(ft_agl=500)


def test_what_a_group_leaves_out_is_not_mentioned() -> None:
    value = forecast(
        "TAF EAAA 101100Z 1012/1112 24010KT 0800 FG VV001 BECMG 1014/1016 NSW TEMPO 1016/1018 CAVOK "
        "TEMPO 1018/1020 -RA PROB30 TEMPO 1020/1022 BKN008"
    )
    base, becoming, clear, rain, low = value.groups
    assert base.weather == ("FG",)
    assert (becoming.ceiling, becoming.visibility, becoming.wind, becoming.weather) == (None, None, None, ())
    assert clear.ceiling == NoCeiling(none_below_ft=5000, evidence="CAVOK")
    assert clear.weather == ()
    assert isinstance(clear.visibility, KnownVisibility)
    assert (rain.ceiling, rain.weather) == (None, ("-RA",))
    assert (low.kind, low.probability, low.weather) == ("TEMPO", 30, None)
    assert low.ceiling == CeilingAt(ft_agl=800)


@pytest.mark.parametrize(
    ("note", "not_scheduled"),
    [
        ("AMD NOT SKED", True),
        ("AMD NOT SKED AFT 1203Z", True),
        ("AMD NOT SKED 1103/1112", True),
        ("AMD LTD TO CLD VIS AND WIND", False),
        ("LAST NO AMDS AFT 1203 NEXT 1211", False),
        ("AMD 0051", False),
        ("LIMITED METWATCH 1103 TIL 1112", False),
    ],
)
def test_notes_on_amendments(note: str, not_scheduled: bool) -> None:
    """AIM and NWSI 10-813, from memory."""
    value = forecast(f"TAF KAAA 101130Z 1012/1112 18008KT P6SM SKC {note}")
    assert value.not_scheduled == not_scheduled
    assert value.unread == ()
    assert len(value.groups) == 1


@pytest.mark.parametrize(
    "tokens",
    [
        "TX15/1111Z TN13/1204Z",
        "TXM00/1015Z TNM00/1103Z",
        "TM05/20Z",
        "520004 620258 QNH2960INS",
        "WS020/23030KT",
        "WSCONDS",
        "FM101300 MOD TURB BLW 5000FT TL101800",
    ],
)
def test_tokens_that_change_nothing(tokens: str) -> None:
    value = forecast(f"TAF KAAA 101130Z 1012/1112 18008KT P6SM BKN040 {tokens} RMK NXT FCST BY 101800Z")
    assert value.unread == ()
    assert len(value.groups) == 1
    assert value.remarks == "NXT FCST BY 101800Z"


def test_a_note_in_the_middle_loses_no_group() -> None:
    value = forecast("TAF KAAA 101130Z 1012/1112 P6SM SKC AMD NOT SKED FM101800 1SM OVC005")
    assert [group.kind for group in value.groups] == ["BASE", "FM"]


@pytest.mark.parametrize(
    ("after", "kinds", "remarks"),
    [
        ("RMK PGU BECMG 1020/1022 BKN008", ["BASE", "BECMG"], "PGU"),  # SBPJ, among real forecasts
        ("RMK NXT FCST BY 101800Z TEMPO 1020/1024 2SM -SN", ["BASE", "TEMPO"], "NXT FCST BY 101800Z"),
        ("RMK X PROB30 TEMPO 1020/1024 2SM", ["BASE", "TEMPO"], "X"),
        ("RMK X FM101800 OVC005 RMK Y", ["BASE", "FM"], "X Y"),
        ("RMK TEMPO FOG LIKELY", ["BASE"], "TEMPO FOG LIKELY"),
        ("RMK", ["BASE"], ""),
    ],
)
def test_change_groups_after_remarks_count(after: str, kinds: list[str], remarks: str) -> None:
    value = forecast(f"TAF KAAA 101130Z 1012/1112 18008KT P6SM SKC {after}")
    assert [group.kind for group in value.groups] == kinds
    assert value.remarks == remarks
    assert value.unread == ()
