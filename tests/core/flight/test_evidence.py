"""Report and forecast together (method.md 4), through the whole shortlist at a field with its own station.

The field lies under the aircraft: break-out comes 10 min after the failure (5 of recognition, 5 of descent).
"""

from dataclasses import replace

import pytest

from refuge.airfield import Airfield, Station
from refuge.flight.minimums import FLOOR, Limits, Minimums
from refuge.flight.shortlist import build
from refuge.flight.situation import Hearing
from refuge.flight.words import explain, reasons
from refuge.weather.conditions import Conditions
from refuge.weather.reports import Forecast, Group, Observation
from refuge.weather.sky import Bound, CeilingAt, KnownVisibility, UnknownVisibility
from tests.core.flight import situations as s
from tests.core.reference import rows

VFR = s.conditions(s.SKC, s.P6SM)
IFR = s.conditions(800, 2.0)
TO_BREAK_OUT_MIN = 10.0
FIELD = s.airfield("F", s.HERE, station="XA")
XA = s.station("XA", s.HERE)


def code(
    lead_min: float,
    reports: tuple[Observation, ...] = (),
    forecasts: tuple[Forecast, ...] = (),
    *,
    hearing: dict[str, Hearing] | None = None,
    stations: tuple[Station, ...] = (XA,),
    check: str = "weather",
    minimums: Minimums = FLOOR,
    field: Airfield = FIELD,
    slip_min: float = 0.0,
) -> str:
    """Return the verdict of a check at the field, this many minutes ahead of now."""
    known = s.situation([field], stations, reports=reports, forecasts=forecasts, hearing=hearing)
    question = s.question(fails_in_min=lead_min - TO_BREAK_OUT_MIN, minimums=minimums)
    found = build(replace(question, slip_min=slip_min), known)
    assert (found.basis.arrival.latest_s[0] - s.NOW.timestamp()) / 60 == pytest.approx(lead_min)
    checks = explain(found, 0)
    verdict = checks[check].verdict  # type: ignore[index]
    assert verdict == "meets" or any(line.startswith(check.replace("_", "-")) for line in reasons(checks))
    return verdict


@pytest.mark.parametrize("row", rows("report_and_forecast"), ids=lambda row: row["id"])
def test_worked_cases(row: dict[str, str]) -> None:
    said = {"VFR": VFR, "IFR": IFR}
    reports = (s.report("XA", said[row["report"]], age_min=float(row["report_age_min"])),) if row["report"] else ()
    tempo = s.group("TEMPO", 0, 6, IFR)
    forecasts = {"VFR": (s.forecast("XA", VFR),), "TEMPO IFR": (s.forecast("XA", VFR, tempo),), "": ()}
    # A missing report is one of a station that has been heard; a missing forecast one that was never issued.
    hearing = {"XA": replace(s.HEARD, forecasts=bool(row["forecast"]))}
    assert code(float(row["lead_min"]), reports, forecasts[row["forecast"]], hearing=hearing) == row["verdict"]


# method.md 4: 'up to 60 ...; 60-120 ...; beyond'. The report is 20 min old.
@pytest.mark.parametrize(
    ("lead_min", "bad_report", "alone", "alone_nosig"),
    [
        (40, "misses", "meets", "meets"),
        (41, "unknown", "unknown", "meets"),
        (100, "unknown", "unknown", "meets"),
        (101, "unknown", "unknown", "unknown"),
        (300, "unknown", "unknown", "unknown"),
    ],
)
def test_the_hours_after_a_report(lead_min: float, bad_report: str, alone: str, alone_nosig: str) -> None:
    good = s.forecast("XA", VFR)
    assert code(lead_min, (s.report("XA", IFR),), (good,)) == bad_report
    assert code(lead_min, (s.report("XA", VFR),), (good,)) == "meets"
    assert code(lead_min, (s.report("XA", VFR),)) == alone
    assert code(lead_min, (s.report("XA", VFR, nosig=True),)) == alone_nosig
    assert code(lead_min, (s.report("XA", VFR),), (s.forecast("XA", IFR),)) == "misses"


@pytest.mark.parametrize(
    ("lead_min", "bad_report", "alone", "alone_nosig"),
    [
        (10, "misses", "meets", "meets"),
        (11, "misses", "unknown", "meets"),
        (40, "misses", "unknown", "meets"),
        (41, "unknown", "unknown", "meets"),
        (70, "unknown", "unknown", "meets"),
        (71, "unknown", "unknown", "unknown"),
    ],
)
def test_a_flight_that_may_leave_late_counts_on_time_and_late(
    lead_min: float, bad_report: str, alone: str, alone_nosig: str
) -> None:
    """The same 30 min later (method.md 4: the latest arrival, slip included), the worse of both."""
    good = s.forecast("XA", VFR)
    assert code(lead_min, (s.report("XA", IFR),), (good,), slip_min=30.0) == bad_report
    assert code(lead_min, (s.report("XA", VFR),), (good,), slip_min=30.0) == "meets"
    assert code(lead_min, (s.report("XA", VFR),), slip_min=30.0) == alone
    assert code(lead_min, (s.report("XA", VFR, nosig=True),), slip_min=30.0) == alone_nosig


def test_a_stale_report_is_no_report() -> None:
    assert code(20, (s.report("XA", VFR, age_min=75),)) == "unknown"  # 95 min from the report
    assert code(20, (s.report("XA", VFR, age_min=75, nosig=True),)) == "meets"
    assert code(20, (s.report("XA", VFR, age_min=76, nosig=True),)) == "unknown"
    assert code(20, (s.report("XA", IFR, age_min=76),), (s.forecast("XA", VFR),)) == "unknown"
    assert code(20, (s.report("XA", VFR, age_min=-16),)) == "unknown"  # a misdated report
    assert code(20, (s.report("XA", VFR, nil=True),)) == "unknown"


def test_a_report_stamped_a_little_ahead_counts_from_now() -> None:
    assert code(60, (s.report("XA", VFR, age_min=-10),)) == "meets"
    assert code(65, (s.report("XA", VFR, age_min=-10),)) == "unknown"


def test_a_trend_counts_when_it_is_adverse() -> None:
    tempo = s.group("TEMPO", -0.4, 1.6, IFR)
    assert code(30, (s.report("XA", VFR, trend=(tempo,)),)) == "misses"
    better = s.group("BECMG", -0.4, 0, VFR)
    assert code(30, (s.report("XA", IFR, trend=(better,)),)) == "misses"
    assert code(90, (s.report("XA", VFR, trend=(s.group("TEMPO", -0.4, 1.6, VFR),), nosig=True),)) == "unknown"


def test_silent_is_unknown_and_not_absent() -> None:
    hearing = {"XA": s.HEARD}
    good = (s.forecast("XA", VFR),)
    for lead in (20, 90, 200):
        assert code(lead, (), good, hearing=hearing) == "unknown"
        assert (
            code(lead, (s.report("XA", VFR),), (), hearing=hearing) == "unknown"
        )  # it has issued forecasts before
    never_reported = {"XA": s.FORECASTS_ONLY}
    assert code(110, (), good, hearing=never_reported) == "unknown"
    assert code(121, (), good, hearing=never_reported) == "meets"


@pytest.mark.parametrize(("old_min", "verdict"), [(0, "meets"), (180, "meets"), (181, "unknown")])
def test_no_forecast_meets_where_nothing_came_in_for_hours(old_min: float, verdict: str) -> None:
    """Who says that nothing is known of the weather now finds no refuge (forecasts come each 6 h, from memory)."""
    field = s.airfield("F", s.HERE, station="XA")
    known = s.situation([field], [XA], forecasts=[s.forecast("XA", VFR)], hearing={"XA": s.FORECASTS_ONLY})
    known = replace(known, data_as_of=s.NOW - s.minutes(old_min))
    found = explain(build(s.question(fails_in_min=180.0), known), 0)
    assert (found["weather"].verdict, found["area"].verdict) == (verdict, verdict)


# --- already wrong: regressions ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("now_said", "foretold", "verdict"),
    [
        (VFR, VFR, "meets"),
        (IFR, VFR, "unknown"),
        # only the visibility is worse than foretold, beside a ceiling that was foretold too low
        (s.conditions(800, 2.0), s.conditions(800, s.P6SM), "unknown"),
        # as bad as it said: then its improvement is believed
        (IFR, IFR, "meets"),
        (s.conditions(s.SKC, s.P6SM, ("TSRA",)), VFR, "unknown"),
        # what the report leaves unknown bears out nothing
        (s.conditions(s.NO_SKY, s.P6SM), VFR, "unknown"),
        (s.conditions(s.SKC, UnknownVisibility(reason="////")), VFR, "unknown"),
        (s.conditions(s.NO_SKY, s.P6SM), s.conditions(800, s.P6SM), "meets"),
    ],
)
def test_beyond_two_hours_the_report_must_bear_out_the_forecast(
    now_said: Conditions, foretold: Conditions, verdict: str
) -> None:
    improves = s.group("FM", 1, 18, VFR)
    assert code(200, (s.report("XA", now_said),), (s.forecast("XA", foretold, improves),)) == verdict


def test_what_a_station_never_reported_need_not_bear_out_its_forecast() -> None:
    hearing = {"XA": replace(s.HEARD, ever_ceiling=False)}
    no_sky = (s.report("XA", s.conditions(s.NO_SKY, s.P6SM)),)
    assert code(200, no_sky, (s.forecast("XA", VFR),), hearing=hearing) == "meets"
    assert code(90, no_sky, (s.forecast("XA", VFR),), hearing=hearing) == "unknown"


def test_a_forecast_that_does_not_speak_of_now_is_not_borne_out_by_a_bad_report() -> None:
    later = s.forecast("XA", VFR, from_h=1, issued_h=-0.5)
    assert code(200, (s.report("XA", VFR),), (later,)) == "meets"
    assert code(200, (s.report("XA", IFR),), (later,)) == "unknown"


# --- borrowed reports and forecasts --------------------------------------------------------------------

BARE = s.airfield("F", s.HERE)


def near(name: str, distance_nm: float, bearing: float = 90.0) -> Station:
    return s.station(name, s.at(bearing, distance_nm))


def test_a_younger_bad_report_counts_beside_an_older_good_one() -> None:
    stations = (near("XA", 5), near("XB", 10))
    forecast = (s.forecast("XB", VFR),)
    bad = (s.report("XA", VFR, age_min=70), s.report("XB", IFR, age_min=10))
    assert code(55, bad, forecast, stations=stations, field=BARE) == "unknown"  # 125 and 65 min
    assert code(45, bad, forecast, stations=stations, field=BARE) == "misses"  # 115 and 55 min


def test_a_forecast_station_without_sensors_of_its_own_still_foretells() -> None:
    stations = (near("XA", 5), near("XB", 25))
    hearing = {"XA": s.HEARD, "XB": s.FORECASTS_ONLY}
    forecasts = (s.forecast("XA", VFR), s.forecast("XB", IFR))
    assert code(200, (s.report("XA", VFR),), forecasts, stations=stations, field=BARE, hearing=hearing) == "misses"


def test_within_two_hours_a_borrowed_forecast_needs_a_report_of_its_own_station() -> None:
    stations = (near("XA", 5), near("XB", 25))
    reports, forecasts = (s.report("XA", VFR),), (s.forecast("XB", VFR),)
    hearing = {"XA": s.REPORTS_ONLY, "XB": s.HEARD}
    both = (*reports, s.report("XB", VFR))
    wrong = (*reports, s.report("XB", IFR))
    assert code(80, both, forecasts, stations=stations, field=BARE, hearing=hearing) == "meets"
    assert code(80, reports, forecasts, stations=stations, field=BARE, hearing=hearing) == "unknown"
    assert code(80, wrong, forecasts, stations=stations, field=BARE, hearing=hearing) == "unknown"
    assert code(30, reports, forecasts, stations=stations, field=BARE, hearing=hearing) == "meets"


def test_no_sensor_does_not_bear_and_somebody_must() -> None:
    blind = {"XA": replace(s.REPORTS_ONLY, ever_ceiling=False)}
    said = s.conditions(s.NO_SKY, s.P6SM)
    stations = (near("XA", 5), near("XB", 10))
    assert code(20, (s.report("XA", said),), stations=stations[:1], field=BARE, hearing=blind) == "unknown"
    hearing = {**blind, "XB": s.REPORTS_ONLY}
    reports = (s.report("XA", said), s.report("XB", VFR))
    for check in ("weather", "area", "break_out"):
        assert code(20, reports, stations=stations, field=BARE, hearing=hearing, check=check) == "meets"
        assert code(20, reports[:1], stations=stations[:1], field=BARE, hearing=blind, check=check) == "unknown"
        heard = dict.fromkeys(hearing, s.REPORTS_ONLY)
        assert code(20, reports, stations=stations, field=BARE, hearing=heard, check=check) == "unknown"


def test_the_area_asks_a_station_that_only_forecasts() -> None:
    stations = (XA, near("XB", 15))
    reports, forecasts = (s.report("XA", VFR),), (s.forecast("XA", VFR), s.forecast("XB", IFR))
    hearing = {"XA": s.HEARD, "XB": s.FORECASTS_ONLY}
    assert code(200, reports, forecasts, stations=stations, hearing=hearing, check="area") == "misses"
    assert code(200, reports, (forecasts[0], s.forecast("XB", VFR)), stations=stations, hearing=hearing) == "meets"


# --- the window, other countries, open-ended values ------------------------------------------------------


def test_the_window_must_lie_within_the_forecast() -> None:
    reports = (s.report("XA", VFR),)
    # latest arrival in 200 min: landing 10 min later, timing error 45 min: 255 min are 4.25 h
    assert code(200, reports, (s.forecast("XA", VFR, to_h=4.25),)) == "meets"
    assert code(200, reports, (s.forecast("XA", VFR, to_h=4.2),)) == "unknown"
    assert (
        code(
            200,
            reports,
            (s.forecast("XA", VFR, to_h=4.2), s.forecast("XA", VFR, from_h=3)),
        )
        == "meets"
    )
    assert code(200, reports, (s.forecast("XA", VFR, cancelled=True),)) == "unknown"
    assert code(200, reports, (s.forecast("XA", VFR), s.forecast("XA", VFR, from_h=3, cancelled=True))) == "unknown"
    hole = (s.forecast("XA", VFR, from_h=-6, to_h=2.5), s.forecast("XA", VFR, from_h=3))
    assert code(200, reports, hole) == "unknown"
    assert code(300, reports, hole) == "meets"


@pytest.mark.parametrize(
    ("foretold", "to_lead_80", "to_lead_200"),
    [
        (s.conditions(s.CAVOK, KnownVisibility(sm=6.21, bound=Bound.AT_LEAST)), "meets", "meets"),
        (s.conditions(s.SKC, s.P6SM), "meets", "unknown"),
        (s.conditions(s.NSC, s.P6SM), "meets", "unknown"),  # the visibility is not proved
        (s.conditions(CeilingAt(ft_agl=3000), s.P6SM), "meets", "unknown"),
    ],
)
def test_forecasts_elsewhere_need_not_mention_every_change(
    foretold: Conditions, to_lead_80: str, to_lead_200: str
) -> None:
    """method.md 4: above 1,500 ft and 5 km only CAVOK, NSC or the latest report prove anything."""
    abroad = (replace(XA, country="FR"),)
    ask = Minimums(
        id="m", day=Limits(ceiling_ft=2500, visibility_sm=5), night=Limits(ceiling_ft=2500, visibility_sm=5)
    )
    reports, forecasts = (s.report("XA", VFR),), (s.forecast("XA", foretold),)
    assert code(80, reports, forecasts, stations=abroad, minimums=ask) == to_lead_80
    assert code(200, reports, forecasts, stations=abroad, minimums=ask) == to_lead_200
    assert code(200, reports, forecasts, minimums=ask) == "meets"
    assert (
        code(200, reports, forecasts, stations=abroad) == "meets"
    )  # the floor asks no more than 1,500 ft and 3 SM


def test_a_change_of_visibility_ends_cavok() -> None:
    abroad = (replace(XA, country="FR"),)
    ask = Minimums(id="m", day=Limits(ceiling_ft=2500, visibility_sm=3.5), night="not planned")
    hazy: tuple[Group, ...] = (s.group("TEMPO", 2, 6, visibility=KnownVisibility(sm=4.0)),)
    forecast = (s.forecast("XA", s.conditions(s.CAVOK, s.P6SM), *hazy),)
    assert code(200, (s.report("XA", VFR),), forecast, stations=abroad, minimums=ask) == "unknown"


@pytest.mark.parametrize(
    ("said", "verdict"),
    [
        (s.conditions(1500, 3.0), "meets"),  # the floor by day: method.md 5
        (s.conditions(1400, 3.0), "misses"),
        (s.conditions(1500, 2.75), "misses"),
        (s.conditions(0, 10.0), "misses"),  # OVC000 is a ceiling, no falsy zero
        (s.conditions(s.CLR, 10.0), "meets"),
        (s.conditions(s.NO_SKY, 10.0), "unknown"),
        (s.conditions(s.SKC, s.NO_VISIBILITY), "unknown"),
        (s.conditions(s.SKC, KnownVisibility(sm=0.25, bound=Bound.LESS_THAN)), "misses"),
        (s.conditions(s.SKC, s.P6SM, ("TSRA",)), "misses"),
        (s.conditions(s.SKC, s.P6SM, ("VCTS",)), "meets"),
        (s.conditions(s.SKC, s.P6SM, ("SHGS",)), "misses"),
        (s.conditions(s.SKC, s.P6SM, ("+FC",)), "misses"),
        (s.conditions(s.SKC, s.P6SM, ("SQ",)), "misses"),
    ],
)
def test_single_reports(said: Conditions, verdict: str) -> None:
    assert code(20, (s.report("XA", said),)) == verdict


@pytest.mark.parametrize("row", rows("break_out_base"), ids=lambda row: row["id"])
def test_the_base_must_clear_the_lowest_safe_height(row: dict[str, str]) -> None:
    height = float(row["elevation_ft"])
    field = s.airfield("F", s.HERE, station="XA", elevation_ft=height)
    said = s.conditions(int(row["ceiling_ft_agl"]), s.P6SM)
    known = s.situation([field], [s.station("XA", s.HERE, elevation_ft=height)], reports=[s.report("XA", said)])
    found = build(s.question(lowest_safe_ft_amsl=float(row["lowest_safe_ft_amsl"]), altitude_ft=6000.0), known)
    assert explain(found, 0)["break_out"].verdict == row["verdict"]
