"""Each row of decoding.md's table 'TAF, for a window of arrival', on forecasts written as values."""

from datetime import UTC, datetime, timedelta
from typing import Literal

import pytest

from refuge.errors import InputError
from refuge.weather.category import Category, category
from refuge.weather.conditions import Conditions
from refuge.weather.expected import Expected, State, as_missing, expected, states
from refuge.weather.reports import Forecast, Group, GroupKind, Unreadable
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    Layer,
    NoCeiling,
    UnknownCeiling,
    UnknownVisibility,
    Visibility,
)
from refuge.weather.states import MAX_GROUPS, label_of
from refuge.weather.wind import KnownWind, UnknownWind, Wind

CLEAR = NoCeiling(none_below_ft=None, evidence="SKC")
NSC = NoCeiling(none_below_ft=5000, evidence="NSC")
P6SM = KnownVisibility(sm=6.0, bound=Bound.AT_LEAST)
WEST = KnownWind(dir_deg_true=270, speed_kt=10.0)


def at(ddhhmm: str) -> datetime:
    """Return a time of October 2026; hour 24 is midnight."""
    return datetime(2026, 10, int(ddhhmm[:2]), tzinfo=UTC) + timedelta(
        hours=int(ddhhmm[2:4]), minutes=int(ddhhmm[4:] or 0)
    )


def group(
    kind: GroupKind,
    period: str,
    ceiling: Ceiling | int | None = None,
    sm: Visibility | float | None = None,
    *,
    wind: Wind | None = None,
    weather: tuple[str, ...] | None = None,
    probability: int | None = None,
    layers: tuple[Layer, ...] = (),
    unread: tuple[str, ...] = (),
) -> Group:
    since, until = period.split("/")
    return Group(
        kind=kind,
        start=at(since),
        end=at(until),
        probability=probability,
        ceiling=CeilingAt(ft_agl=ceiling) if isinstance(ceiling, int) else ceiling,
        visibility=KnownVisibility(sm=sm) if isinstance(sm, float) else sm,
        wind=wind,
        weather=weather,
        layers=layers,
        unread=unread,
    )


def forecast(
    valid: str,
    *groups: Group,
    issued: str = "101130",
    corrected: bool = False,
    cancelled: bool = False,
    nil: bool = False,
    not_scheduled: bool = False,
) -> Forecast:
    since, until = valid.split("/")
    return Forecast(
        raw="",
        station="XAAA",
        issued_at=at(issued),
        valid_from=at(since),
        valid_to=at(until),
        groups=groups,
        corrected=corrected,
        cancelled=cancelled,
        nil=nil,
        not_scheduled=not_scheduled,
    )


def of(conditions: Conditions) -> Category:
    return category(conditions.ceiling, conditions.visibility)


def expect(window: str, *forecasts: Forecast) -> Expected:
    since, until = window.split("/")
    return expected(forecasts, "XAAA", at(since), at(until))


def categories(window: str, *forecasts: Forecast) -> tuple[Category, Category, bool]:
    answer = expect(window, *forecasts)
    return of(answer.prevailing), of(answer.adverse), answer.complete


def labels(found: tuple[State, ...]) -> list[str]:
    return [state.label for state in found]


GOOD_BASE = group("BASE", "1012/1112", CLEAR, P6SM, wind=WEST, weather=())
VFR, MVFR, IFR, LIFR, UNKNOWN = Category.VFR, Category.MVFR, Category.IFR, Category.LIFR, Category.UNKNOWN


@pytest.mark.parametrize(
    ("word", "expected_category"),
    [("FG", LIFR), ("FZFG", LIFR), ("MIFG", VFR), ("BCFG", VFR), ("PRFG", VFR), ("VCFG", VFR)],
)
def test_fog_without_a_visibility_is_fog(word: str, expected_category: Category) -> None:
    """Fog is less than 1,000 m (WMO-No. 306, table 4678, from memory); shallow, in patches or nearby is not."""
    told = forecast("1012/1112", GOOD_BASE, group("TEMPO", "1014/1016", weather=(word,)))
    assert categories("1015/1015", told) == (VFR, expected_category, True)
    seen = forecast("1012/1112", GOOD_BASE, group("TEMPO", "1014/1016", sm=0.5, weather=(word,)))
    assert categories("1015/1015", seen) == (VFR, LIFR, True)


class TestFrom:
    """Base, FM: self-contained, supersedes all before (WMO-No. 306, 51.1.4, 51.8.2)."""

    def test_minutes_of_fm_count(self) -> None:
        fm = group("FM", "101759/1112", 800, 2.0, wind=WEST)
        assert categories("101758/101758", forecast("1012/1112", GOOD_BASE, fm)) == (VFR, VFR, True)
        assert categories("101759/101759", forecast("1012/1112", GOOD_BASE, fm)) == (IFR, IFR, True)

    def test_inside_the_window_the_worse_side_counts(self) -> None:
        worse = forecast("1012/1112", GOOD_BASE, group("FM", "101800/1112", 800, 2.0, wind=WEST))
        better = forecast(
            "1012/1112", group("BASE", "1012/1112", 800, 2.0, wind=WEST), group("FM", "101800/1112", CLEAR, P6SM)
        )
        assert categories("1017/1019", worse) == (IFR, IFR, True)
        assert categories("1017/1019", better) == (IFR, IFR, True)

    def test_nothing_inherits(self) -> None:
        answer = expect("1019/1019", forecast("1012/1112", GOOD_BASE, group("FM", "101800/1112", None, P6SM)))
        assert isinstance(answer.prevailing.ceiling, UnknownCeiling)
        assert isinstance(answer.prevailing.wind, UnknownWind)
        assert answer.prevailing.weather == ()
        assert of(answer.prevailing) is UNKNOWN
        assert answer.complete

    def test_changes_written_before_it_end_with_it(self) -> None:
        replaced = forecast(
            "1012/1112",
            GOOD_BASE,
            group("BECMG", "1016/1020", 300),
            group("TEMPO", "1014/1024", 400),
            group("FM", "101800/1112", CLEAR, P6SM),
        )
        assert categories("1017/1017", replaced) == (VFR, LIFR, True)
        assert categories("101801/1111", replaced) == (VFR, VFR, True)

    def test_changes_written_before_it_that_start_after_it_stay(self) -> None:
        out_of_order = forecast(
            "1012/1112", GOOD_BASE, group("TEMPO", "1020/1024", 400), group("FM", "101800/1112", CLEAR, P6SM)
        )
        assert categories("1021/1021", out_of_order) == (VFR, LIFR, True)

    def test_changes_that_end_before_it_are_none_of_it(self) -> None:
        early = forecast(
            "1012/1112", GOOD_BASE, group("FM", "101800/1112", CLEAR, P6SM), group("BECMG", "1013/1015", 400)
        )
        assert categories("1016/1016", early) == (LIFR, LIFR, True)
        assert categories("1019/1019", early) == (VFR, VFR, True)

    def test_before_the_validity_counts_from_its_start(self) -> None:
        mistyped = forecast("1012/1112", GOOD_BASE, group("FM", "101000/1112", 300, P6SM))
        assert categories("1013/1013", mistyped) == (LIFR, LIFR, True)

    def test_a_group_that_starts_with_the_last_instant_of_the_window_counts(self) -> None:
        fm = group("FM", "101800/1112", 300, P6SM)
        assert categories("1017/1018", forecast("1012/1112", GOOD_BASE, fm)) == (LIFR, LIFR, True)


class TestBecoming:
    """BECMG: at an unspecified time in its period, prevails from the end, the rest persists (51.8.3)."""

    def test_worse_from_its_start(self) -> None:
        worse = forecast("1012/1112", GOOD_BASE, group("BECMG", "1014/1016", 400))
        assert categories("101359/101359", worse) == (VFR, VFR, True)
        assert categories("1014/1014", worse) == (VFR, LIFR, True)
        assert categories("101559/101559", worse) == (VFR, LIFR, True)
        assert categories("1016/1016", worse) == (LIFR, LIFR, True)

    def test_better_only_from_its_end(self) -> None:
        better = forecast("1012/1112", group("BASE", "1012/1112", 400, P6SM), group("BECMG", "1014/1016", CLEAR))
        assert categories("101559/101559", better) == (LIFR, LIFR, True)
        assert categories("1016/1016", better) == (VFR, VFR, True)

    def test_omitted_elements_persist(self) -> None:
        base = group("BASE", "1012/1112", 2500, 4.0, wind=WEST, weather=("BR",))
        answer = expect("1018/1018", forecast("1012/1112", base, group("BECMG", "1014/1016", sm=2.0)))
        assert answer.prevailing == Conditions(
            ceiling=CeilingAt(ft_agl=2500), visibility=KnownVisibility(sm=2.0), wind=WEST, weather=("BR",)
        )

    def test_inside_the_period_both_states_exist(self) -> None:
        both = states(forecast("1012/1112", GOOD_BASE, group("BECMG", "1014/1016", 400)), at("1015"), at("1015"))
        assert labels(both) == ["base", "BECMG 1014/1016 running"]
        assert [state.prevailing for state in both] == [True, False]

    def test_two_that_overlap_come_in_every_combination(self) -> None:
        """Ceiling of the one with visibility of the other is a state that neither gives alone."""
        overlapping = forecast(
            "1012/1112",
            group("BASE", "1012/1112", 4000, P6SM),
            group("BECMG", "1014/1018", 2000),
            group("BECMG", "1016/1020", sm=4.0),
        )
        pairs = {
            (state.conditions.ceiling, state.conditions.visibility)
            for state in states(overlapping, at("1017"), at("1017"))
        }
        high, low = CeilingAt(ft_agl=4000), CeilingAt(ft_agl=2000)
        four = KnownVisibility(sm=4.0)
        assert pairs == {(high, P6SM), (low, P6SM), (high, four), (low, four)}

    def test_a_later_one_prevails_over_an_earlier_one(self) -> None:
        twice = forecast(
            "1012/1112", GOOD_BASE, group("BECMG", "1014/1016", 400), group("BECMG", "1018/1020", 4000)
        )
        assert categories("1019/1019", twice) == (LIFR, LIFR, True)
        assert categories("1020/1020", twice) == (VFR, VFR, True)

    def test_a_period_that_is_none_may_be_any_time(self) -> None:
        worse = forecast("1012/1112", GOOD_BASE, group("BECMG", "1016/1014", 400))
        better = forecast("1012/1112", group("BASE", "1012/1112", 400, P6SM), group("BECMG", "1016/1016", CLEAR))
        assert categories("1013/1013", worse) == (VFR, LIFR, True)
        assert categories("1111/1111", better) == (LIFR, LIFR, True)


class TestTempo:
    """TEMPO, PROB and INTER: laid over every prevailing state in force; never an improvement (51.8.4, 51.9)."""

    @pytest.mark.parametrize(
        ("kind", "probability", "label"),
        [
            ("TEMPO", None, "TEMPO 1020/1024"),
            ("PROB", 30, "PROB30 1020/1024"),
            ("PROB", 40, "PROB40 1020/1024"),
            ("TEMPO", 30, "PROB30 TEMPO 1020/1024"),
            ("INTER", None, "INTER 1020/1024"),
            ("INTER", 30, "PROB30 INTER 1020/1024"),
        ],
    )
    def test_controls_the_adverse_state_alone(self, kind: GroupKind, probability: int | None, label: str) -> None:
        passing = forecast("1012/1112", GOOD_BASE, group(kind, "1020/1024", 300, probability=probability))
        assert categories("1021/1021", passing) == (VFR, LIFR, True)
        assert categories("1100/1101", passing) == (VFR, VFR, True)
        assert categories("101959/101959", passing) == (VFR, VFR, True)
        assert expect("1021/1021", passing).groups_used == ("base", label)

    def test_is_never_an_improvement(self) -> None:
        better = forecast(
            "1012/1112", group("BASE", "1012/1112", 400, 0.5), group("TEMPO", "1012/1112", CLEAR, P6SM)
        )
        assert categories("1013/1013", better) == (LIFR, LIFR, True)

    def test_lies_over_every_state_in_force_while_it_lasts(self) -> None:
        over = forecast(
            "1012/1112",
            group("BASE", "1012/1112", 4000, P6SM),
            group("BECMG", "1014/1016", 2000),
            group("TEMPO", "1012/1020", sm=2.0),
        )
        found = states(over, at("1013"), at("1017"))
        under = {state.conditions.ceiling for state in found if state.label == "TEMPO 1012/1020"}
        assert under == {CeilingAt(ft_agl=4000), CeilingAt(ft_agl=2000)}

    def test_not_over_a_state_that_is_over_when_it_begins(self) -> None:
        """The part before FM is bad in ceiling, the fluctuation after FM in visibility: never both."""
        apart = forecast(
            "1012/1112",
            group("BASE", "1012/1112", 800, P6SM),
            group("FM", "101800/1112", CLEAR, P6SM),
            group("TEMPO", "1018/1020", sm=2.0),
        )
        both = [
            state
            for state in states(apart, at("1017"), at("1019"))
            if state.conditions.ceiling == CeilingAt(ft_agl=800)
            and state.conditions.visibility == KnownVisibility(sm=2.0)
        ]
        assert both == []

    def test_its_state_lasts_as_long_as_both(self) -> None:
        over = forecast("1012/1112", GOOD_BASE, group("TEMPO", "1010/1014", 300))
        (_, tempo) = states(over, at("1013"), at("1013"))
        assert (tempo.start, tempo.end) == (at("1012"), at("1014"))


class TestElements:
    """Cloud sets, NSW, CAVOK and NSC, VV (51.1.5, 51.5.2, 51.7; FMH-1 9.4.5)."""

    def test_a_change_restates_the_cloud_set(self) -> None:
        """A layer of the base that the change does not repeat is gone (51.1.5)."""
        low, high = Layer(amount="BKN", base_ft_agl=800), Layer(amount="BKN", base_ft_agl=4000)
        restated = forecast(
            "1012/1112",
            group("BASE", "1012/1112", 800, P6SM, layers=(low, high)),
            group("BECMG", "1014/1016", 4000, layers=(high,)),
        )
        answer = expect("1016/1016", restated)
        assert answer.prevailing.ceiling == CeilingAt(ft_agl=4000)
        assert answer.prevailing.layers == (high,)

    def test_nsw_ends_the_weather_only(self) -> None:
        base = group("BASE", "1012/1112", 800, 2.0, weather=("-RA", "BR"))
        answer = expect("1016/1016", forecast("1012/1112", base, group("BECMG", "1014/1016", weather=())))
        assert answer.prevailing.weather == ()
        assert answer.prevailing.ceiling == CeilingAt(ft_agl=800)
        assert answer.prevailing.visibility == KnownVisibility(sm=2.0)

    def test_nsc_is_none_below_5000_ft_and_wins_over_a_ceiling_above_it(self) -> None:
        """Between 5,000 and 8,000 ft nothing is known in one of the two states (51.6.3)."""
        mixed = forecast("1012/1112", group("BASE", "1012/1112", 8000, P6SM), group("BECMG", "1014/1016", NSC))
        assert expect("1015/1015", mixed).adverse.ceiling == NSC
        assert categories("1016/1016", mixed) == (VFR, VFR, True)

    def test_a_hidden_sky_counts_as_the_lowest_category(self) -> None:
        hidden = UnknownCeiling(reason="VV///", obscured=True)
        foggy = forecast("1012/1112", GOOD_BASE, group("TEMPO", "1012/1112", hidden))
        assert categories("1013/1013", foggy) == (VFR, LIFR, True)

    def test_weather_and_clouds_of_all_states_are_gathered(self) -> None:
        storm = Layer(amount="SCT", base_ft_agl=4000, convective="CB")
        stormy = forecast(
            "1012/1112", GOOD_BASE, group("TEMPO", "1012/1112", CLEAR, weather=("TSRA",), layers=(storm,))
        )
        answer = expect("1013/1013", stormy)
        assert answer.prevailing.weather == ()
        assert answer.adverse.weather == ("TSRA",)
        assert answer.adverse.layers == (storm,)

    def test_the_stronger_wind_stands(self) -> None:
        gusty = KnownWind(dir_deg_true=180, speed_kt=15.0, gust_kt=30.0)
        answer = expect("1013/1013", forecast("1012/1112", GOOD_BASE, group("TEMPO", "1012/1112", wind=gusty)))
        assert (answer.prevailing.wind, answer.adverse.wind) == (WEST, gusty)


class TestUnread:
    """A token that nothing read may have meant anything: unknown, unless LIFR already (decoding.md)."""

    def test_in_the_base(self) -> None:
        odd = group("BASE", "1012/1112", 4000, P6SM, unread=("OVCOO3",))
        answer = expect("1013/1013", forecast("1012/1112", odd))
        assert of(answer.prevailing) is UNKNOWN
        assert answer.prevailing.ceiling == UnknownCeiling(
            reason="base has OVCOO3, which nothing could read", at_best_ft_agl=4000
        )
        assert isinstance(answer.prevailing.visibility, UnknownVisibility)

    def test_in_a_fluctuation_leaves_what_prevails(self) -> None:
        odd = forecast("1012/1112", GOOD_BASE, group("TEMPO", "1014/1016", unread=("XYZ",)))
        assert categories("1015/1015", odd) == (VFR, UNKNOWN, True)
        assert any("XYZ" in line for line in expect("1015/1015", odd).why)

    def test_lifr_stays_lifr(self) -> None:
        odd = forecast("1012/1112", group("BASE", "1012/1112", 300, P6SM, unread=("XYZ",)))
        assert categories("1013/1013", odd) == (LIFR, LIFR, True)

    def test_a_later_change_clears_only_what_it_restates(self) -> None:
        """The base was LIFR by its ceiling and odd: its visibility stays in doubt when the ceiling lifts."""
        odd = forecast(
            "1012/1112",
            group("BASE", "1012/1112", 300, P6SM, unread=("XYZ",)),
            group("BECMG", "1013/1014", CLEAR),
            group("BECMG", "1015/1016", sm=P6SM),
        )
        assert categories("1014/1014", odd) == (UNKNOWN, UNKNOWN, True)
        assert categories("1016/1016", odd) == (VFR, UNKNOWN, True)  # see the next test

    def test_it_may_have_begun_a_group_so_all_is_in_doubt_until_the_next_from(self) -> None:
        """A lost FM would say what holds from some time on; only an FM after it replaces it (51.8.2)."""
        odd = forecast(
            "1012/1112",
            GOOD_BASE,
            group("FM", "101500/1112", CLEAR, P6SM),
            group("TEMPO", "1016/1017", 2000, unread=("FM1O1900",)),
            group("FM", "102200/1112", CLEAR, P6SM),
            group("FM", "110600/1112", CLEAR, P6SM),
        )
        assert categories("1014/1014", odd) == (VFR, VFR, True)
        assert categories("1015/1015", odd) == (VFR, UNKNOWN, True)
        assert categories("1021/1021", odd) == (VFR, UNKNOWN, True)
        assert categories("1022/1111", odd) == (VFR, VFR, True)

    def test_a_lost_keyword_may_speak_of_any_time_before(self) -> None:
        """Some write all fluctuations behind the last FM (a real Australian report in decoding's data)."""
        odd = forecast(
            "1012/1112",
            GOOD_BASE,
            group("FM", "101500/1112", CLEAR, P6SM),
            group("INTER", "1020/1022", 2000, unread=("INTR", "1013/1014")),
        )
        assert categories("1013/1013", odd) == (VFR, UNKNOWN, True)
        assert categories("1111/1111", odd) == (VFR, UNKNOWN, True)

    def test_outside_all_groups_puts_all_of_them_in_doubt(self) -> None:
        odd = Forecast(
            raw="",
            station="XAAA",
            issued_at=at("101130"),
            valid_from=at("1012"),
            valid_to=at("1112"),
            groups=(GOOD_BASE, group("FM", "101800/1112", 300, P6SM)),
            unread=("XYZ",),
        )
        assert categories("1013/1013", odd) == (UNKNOWN, UNKNOWN, True)
        assert categories("1019/1019", odd) == (LIFR, LIFR, True)

    def test_more_groups_than_a_forecast_has_are_unknown(self) -> None:
        changes = [group("TEMPO", "1012/1112", 4000 + n) for n in range(MAX_GROUPS)]
        assert categories("1013/1013", forecast("1012/1112", GOOD_BASE, *changes[1:])) == (VFR, VFR, True)
        assert categories("1013/1013", forecast("1012/1112", GOOD_BASE, *changes)) == (UNKNOWN, UNKNOWN, True)
        assert categories("1112/1113", forecast("1012/1112", GOOD_BASE, *changes)) == (UNKNOWN, UNKNOWN, False)


class TestValidity:
    """NIL, CNL, outside the validity: no forecast, unknown; hour 24 is the next day 00Z (51.8.1)."""

    def test_partly_outside_is_incomplete_and_adverse_unknown(self) -> None:
        assert categories("1111/111201", forecast("1012/1112", GOOD_BASE)) == (VFR, UNKNOWN, False)
        assert categories("101159/1013", forecast("1012/1112", GOOD_BASE)) == (VFR, UNKNOWN, False)

    def test_partly_outside_stays_lifr(self) -> None:
        low = forecast("1012/1112", group("BASE", "1012/1112", 300, P6SM))
        foggy = forecast("1012/1112", group("BASE", "1012/1112", CLEAR, 0.5))
        assert categories("1111/1113", low) == (LIFR, LIFR, False)
        assert categories("1111/1113", foggy) == (LIFR, LIFR, False)

    def test_a_window_up_to_the_end_is_complete_and_its_last_instant_alone_is_not(self) -> None:
        assert categories("1111/1112", forecast("1012/1112", GOOD_BASE)) == (VFR, VFR, True)
        assert categories("1112/1112", forecast("1012/1112", GOOD_BASE)) == (UNKNOWN, UNKNOWN, False)

    def test_wholly_outside_is_unknown_with_the_reason(self) -> None:
        answer = expect("1009/1010", forecast("1012/1112", GOOD_BASE))
        assert of(answer.prevailing) is UNKNOWN
        assert answer.groups_used == ()
        assert not answer.complete
        assert answer.why == ("no forecast before 101200Z: unknown there",)

    def test_midnight_is_hour_24_of_the_day_before(self) -> None:
        assert label_of(group("TEMPO", "1020/1024", 300)) == "TEMPO 1020/1024"
        assert label_of(group("PROB", "1100/1104", 300, probability=30)) == "PROB30 1100/1104"
        last = group("TEMPO", "3022/3124", 300)
        assert last.end == datetime(2026, 11, 1, tzinfo=UTC)
        assert label_of(last) == "TEMPO 3022/3124"

    def test_part_without_base_is_unknown(self) -> None:
        holed = forecast("1012/1112", group("FM", "101800/1112", CLEAR, P6SM))
        assert categories("1017/1019", holed) == (VFR, UNKNOWN, False)

    def test_not_kept_up_to_date_is_said(self) -> None:
        answer = expect("1013/1013", forecast("1012/1112", GOOD_BASE, not_scheduled=True))
        assert "AMD NOT SKED: it is not kept up to date" in answer.why

    def test_a_window_that_ends_before_it_starts_is_refused(self) -> None:
        with pytest.raises(InputError, match="ends"):
            expect("1014/1013", forecast("1012/1112", GOOD_BASE))

    def test_no_forecast_of_the_station_is_unknown(self) -> None:
        answer = expected([forecast("1012/1112", GOOD_BASE)], "XBBB", at("1013"), at("1014"))
        assert (of(answer.prevailing), of(answer.adverse), answer.complete) == (UNKNOWN, UNKNOWN, False)
        assert answer.why == ("no forecast of this station: unknown there",)


OLD = forecast("1006/1106", group("BASE", "1006/1106", 800, P6SM), issued="100530")
NEW = forecast("1012/1112", GOOD_BASE)


class TestSeveral:
    """The newest speaks from its start; before it its predecessor, unless cancelled, else nobody (method.md 4)."""

    def test_the_newest_stands_in_any_order(self) -> None:
        for order in ((OLD, NEW), (NEW, OLD)):
            assert categories("1013/1014", *order) == (VFR, VFR, True)

    def test_before_its_start_the_predecessor_counts(self) -> None:
        assert categories("1010/1011", OLD, NEW) == (IFR, IFR, True)
        assert categories("1011/1013", OLD, NEW) == (IFR, IFR, True)
        assert categories("1005/1007", OLD, NEW) == (IFR, UNKNOWN, False)

    def test_states_of_the_predecessor_end_where_the_newest_starts(self) -> None:
        answer = expect("1011/1013", OLD, NEW)
        assert [(state.start, state.end) for state in answer.states] == [
            (at("1012"), at("1112")),
            (at("1006"), at("1012")),
        ]

    def test_the_instant_of_change_belongs_to_the_newest(self) -> None:
        """A window from it on knows nothing of the predecessor; a window up to it holds both."""
        assert categories("1012/1013", OLD, NEW) == (VFR, VFR, True)
        low = forecast("1012/1112", group("BASE", "1012/1112", 300, P6SM))
        assert categories("1011/1012", OLD, low) == (LIFR, LIFR, True)
        turning = forecast(
            "1006/1106",
            group("BASE", "1006/1106", CLEAR, P6SM),
            group("FM", "101200/1106", 300, P6SM),
            issued="100530",
        )
        assert categories("1011/1013", turning, NEW) == (VFR, VFR, True)

    def test_a_gap_between_two_is_unknown(self) -> None:
        short = forecast("1006/1010", group("BASE", "1006/1010", 4000, P6SM), issued="100530")
        assert categories("1009/1013", short, NEW) == (VFR, UNKNOWN, False)

    @pytest.mark.parametrize("cancelled", [True, False], ids=["cancelled", "nil"])
    def test_a_cancelled_or_missing_one_brings_nothing_older_back(self, cancelled: bool) -> None:
        gone = forecast("1012/1112", issued="101300", cancelled=cancelled, nil=not cancelled)
        answer = expect("1014/1015", OLD, NEW, gone)
        assert (of(answer.prevailing), of(answer.adverse), answer.complete) == (UNKNOWN, UNKNOWN, False)
        assert answer.why[0].startswith("forecast of 101300Z (")

    def test_before_a_new_one_a_cancelled_predecessor_is_unknown(self) -> None:
        gone = forecast("1006/1106", issued="100900", cancelled=True)
        assert categories("1011/1013", OLD, gone, NEW) == (VFR, UNKNOWN, False)
        assert categories("1013/1014", OLD, gone, NEW) == (VFR, VFR, True)

    def test_of_one_time_of_issue_a_correction_stands(self) -> None:
        corrected = forecast("1012/1112", group("BASE", "1012/1112", 300, P6SM), corrected=True)
        for order in ((NEW, corrected), (corrected, NEW)):
            assert categories("1013/1014", *order) == (LIFR, LIFR, True)

    def test_of_one_time_of_issue_a_cancellation_stands(self) -> None:
        gone = forecast("1012/1112", cancelled=True)
        for order in ((NEW, gone), (gone, NEW)):
            assert categories("1013/1014", *order) == (UNKNOWN, UNKNOWN, False)

    def test_of_two_alike_the_one_received_later_stands(self) -> None:
        again = forecast("1012/1112", group("BASE", "1012/1112", 300, P6SM))
        assert categories("1013/1014", NEW, again) == (LIFR, LIFR, True)

    def test_one_without_validity_ends_the_row(self) -> None:
        bare = Forecast(raw="", station="XAAA", issued_at=at("101300"), valid_from=None, valid_to=None)
        assert categories("1014/1015", NEW, bare) == (UNKNOWN, UNKNOWN, False)

    def test_one_superseded_in_full_says_nothing(self) -> None:
        hidden = forecast("1014/1114", group("BASE", "1014/1114", 300, P6SM), issued="101100")
        assert categories("1015/1016", hidden, NEW) == (VFR, VFR, True)
        assert categories("1013/1013", OLD, hidden, NEW) == (VFR, VFR, True)

    @pytest.mark.parametrize(
        ("raw", "issued"),
        [
            ("TAF AMD XAAA 101300Z rubbish", "101300"),
            ("TAF AMD XAAA rubbish", "101400"),
            ("TAF AMD XAAA 329999Z rubbish", "101400"),
        ],
        ids=["its own time", "no time: the receipt", "no such time: the receipt"],
    )
    def test_an_unreadable_one_ends_the_row_like_nil(self, raw: str, issued: str) -> None:
        """It may be the amendment that makes everything worse."""
        text = Unreadable(raw=raw, kind="TAF", station="XAAA", error="no validity period")
        missing = as_missing(text, received_at=at("101400"))
        assert missing is not None
        assert missing.issued_at == at(issued)
        assert categories("1014/1015", NEW, missing) == (UNKNOWN, UNKNOWN, False)
        later = forecast("1015/1115", group("BASE", "1015/1115", CLEAR, P6SM), issued="101500")
        assert categories("1015/1016", NEW, missing, later) == (VFR, VFR, True)
        assert categories("1014/1016", NEW, missing, later) == (VFR, UNKNOWN, False)
        assert any("no validity period" in line for line in expect("1014/1015", NEW, missing).why)

    @pytest.mark.parametrize(("kind", "station"), [("TAF", None), ("METAR", "XAAA"), (None, "XAAA")])
    def test_an_unreadable_text_of_no_station_is_nothing(
        self, kind: Literal["METAR", "TAF"] | None, station: str | None
    ) -> None:
        text = Unreadable(raw="rubbish", kind=kind, station=station, error="no station at the start")
        assert as_missing(text, received_at=at("101400")) is None
