"""The laws that a fuzzer must not break (decoding.md; method.md, Laws).

Making a body token unreadable, repeating it, removing a whole element or moving a token never gives
a better known category (UNKNOWN ranks worst); no token is lost; no text raises.
"""

import json
import random
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refuge.errors import InputError
from refuge.weather.category import Category, category, rank
from refuge.weather.metar import decode_observation
from refuge.weather.record import report_record
from refuge.weather.reports import Forecast, Observation, Unreadable
from refuge.weather.sky import Ceiling, CeilingAt, NoCeiling, UnknownCeiling
from refuge.weather.split import decode_any, split_reports
from refuge.weather.taf import decode_forecast


def words(text: str) -> list[str]:
    return text.split()


def choices(text: str) -> list[str]:
    return text.split(", ")


RECEIVED_AT = datetime(2022, 10, 10, 16, tzinfo=UTC)
HEAD = ["KAAA", "101553Z"]

winds = st.sampled_from(choices("18010KT, VRB03KT, 00000KT, /////KT, 08003MPS, 31008, 24015G25KT 210V270"))
sights = st.sampled_from(
    [
        "10SM",
        "6SM",
        "3SM",
        "1SM",
        "1/2SM",
        "M1/4SM",
        "11/2SM",
        "P6SM",
        "9999",
        "4800",
        "1600",
        "0400",
        "9999NDV",
        "////",
        "CAVOK",
        "2 1/2SM",
        "1 3/4SM",
        "2000 1200NW",
        "9999 0700",
        "9999/8000",
    ]
)
weathers = st.lists(st.sampled_from(["-RA", "FG", "BR", "+TSRA", "VCSH", "HZ", "//"]), max_size=2)
skies = st.lists(
    st.sampled_from(
        [
            "FEW008",
            "SCT020",
            "BKN030",
            "OVC004",
            "OVC000",
            "BKN010///",
            "///020",
            "//////",
            "///TCU",
            "VV001",
            "VV///",
            "BKN///",
            "NSC",
            "NCD",
            "CLR",
            "SKC",
        ]
    ),
    max_size=3,
)
rests = st.sampled_from(choices("18/12 A2992, 18/ Q1013, ///// Q////, M02/M03 Q0998, R04R/1500N 10/09 Q1001"))
remarks = st.sampled_from(
    ["", "RMK AO2", "RMK CIG 005V010", "RMK SFC VIS 1/4", "RMK SCT V BKN", "RMK VISNO", "RMK VIS 1V3"]
)
# No "OVC00": the second opinion reads it, as 0 ft; no "SM": a number before it makes a visibility.
junk = st.sampled_from(["XXXX", "~", "?18010KT", "BKN0", "Q10", "\x00", "lost", "/"])


@st.composite
def bodies(draw: st.DrawFn) -> list[list[str]]:
    """Return the groups of a body, each as its tokens: wind, visibility, weather, sky, the rest."""
    parts = [draw(winds), draw(sights), " ".join(draw(weathers)), " ".join(draw(skies)), draw(rests)]
    return [["AUTO"] if draw(st.booleans()) else [], *(part.split() for part in parts)]


def observed(tokens: list[str], *, second_opinion: bool = True) -> Observation | Unreadable:
    return decode_observation(" ".join(tokens), received_at=RECEIVED_AT, second_opinion=second_opinion)


def goodness(value: Observation | Unreadable) -> int:
    if isinstance(value, Unreadable):
        return rank(Category.UNKNOWN)
    return rank(category(value.adverse.ceiling, value.adverse.visibility))


def fact(ceiling: Ceiling) -> object:
    """Return what is known of a ceiling, without the words that say how."""
    match ceiling:
        case CeilingAt(ft_agl=ft):
            return ft
        case NoCeiling(none_below_ft=below_ft):
            return "none", below_ft
        case UnknownCeiling(at_best_ft_agl=best_ft, obscured=obscured):
            return "unknown", best_ft, obscured


def flat(body: list[list[str]]) -> list[str]:
    return [token for group in body for token in group]


@given(body=bodies(), remark=remarks, word=junk, data=st.data())
def test_an_unreadable_token_never_improves(
    body: list[list[str]], remark: str, word: str, data: st.DataObject
) -> None:
    tokens = flat(body)
    at = data.draw(st.integers(0, len(tokens) - 1))
    broken = [*tokens[:at], word, *tokens[at + 1 :]]
    before, after = observed([*HEAD, *tokens, remark]), observed([*HEAD, *broken, remark])
    if tokens[at] != "AUTO":
        assert goodness(after) <= goodness(before)
    assert isinstance(after, Observation)
    assert word.upper() in after.unread


@given(body=bodies(), remark=remarks, data=st.data())
def test_solidi_for_a_token_never_improve(body: list[list[str]], remark: str, data: st.DataObject) -> None:
    tokens = flat(body)
    at = data.draw(st.integers(0, len(tokens) - 1))
    broken = [*tokens[:at], "/" * len(tokens[at]), *tokens[at + 1 :]]
    before, after = observed([*HEAD, *tokens, remark]), observed([*HEAD, *broken, remark])
    # "//" in place of one of two weather groups, or of a temperature, leaves the sky as it is.
    assert goodness(after) <= goodness(before)


@given(body=bodies(), remark=remarks, data=st.data())
def test_a_repeated_token_never_improves(body: list[list[str]], remark: str, data: st.DataObject) -> None:
    tokens = flat(body)
    at = data.draw(st.integers(0, len(tokens) - 1))
    before = observed([*HEAD, *tokens, remark])
    after = observed([*HEAD, *tokens[:at], tokens[at], *tokens[at:], remark])
    assert goodness(after) <= goodness(before)


@given(body=bodies(), remark=remarks, gone=st.sampled_from([2, 4]))
def test_an_element_removed_whole_never_improves(body: list[list[str]], remark: str, gone: int) -> None:
    before = observed([*HEAD, *flat(body), remark])
    # CAVOK is both elements in one word.
    left = [group for at, group in enumerate(body) if at != gone and group != ["CAVOK"]]
    after = observed([*HEAD, *flat(left), remark])
    assert goodness(after) <= goodness(before)


@given(body=bodies(), remark=remarks, order=st.permutations(range(6)))
def test_groups_may_come_in_any_order(body: list[list[str]], remark: str, order: list[int]) -> None:
    moved = flat([body[at] for at in order])
    before, after = observed([*HEAD, *flat(body), remark]), observed([*HEAD, *moved, remark])
    if isinstance(after, Unreadable):
        assert moved[0] == "9999/8000"  # right after the time it looks like a validity
        return
    assert isinstance(before, Observation)
    assert sorted(after.unread) == sorted(before.unread)
    assert fact(after.body.ceiling) == fact(before.body.ceiling)
    # The library reads what is out of order less well: that may only make it worse.
    assert goodness(after) <= goodness(observed([*HEAD, *flat(body), remark], second_opinion=False))


@given(body=bodies(), remark=remarks, data=st.data())
def test_a_moved_token_is_read_or_kept(body: list[list[str]], remark: str, data: st.DataObject) -> None:
    tokens = flat(body)
    at, to = (data.draw(st.integers(0, len(tokens) - 1)) for _ in range(2))
    moved = [*tokens]
    moved.insert(to, moved.pop(at))
    before, after = (observed([*HEAD, *t, remark], second_opinion=False) for t in (tokens, moved))
    # A number moved away from its fraction is kept as unread; the fraction alone may be LIFR.
    assert goodness(after) <= max(goodness(before), rank(Category.LIFR))


@given(body=bodies(), remark=remarks, word=junk)
def test_unread_tokens_leave_no_known_category_but_lifr(body: list[list[str]], remark: str, word: str) -> None:
    after = observed([*HEAD, *flat(body), word, remark])
    assert goodness(after) <= rank(Category.LIFR)


REPORT = [
    "METAR",
    "KAAA",
    "101553Z",
    "AUTO",
    "18010G20KT",
    "2",
    "1/2SM",
    "R04/0600FT",
    "BR",
    "BKN008",
    "OVC015",
    "18/17",
    "A2992",
    "RMK",
    "AO2",
]
TAF = [
    "TAF",
    "KAAA",
    "101130Z",
    "1012/1112",
    "18008KT",
    "P6SM",
    "SCT040",
    "FM101800",
    "20012KT",
    "5SM",
    "BR",
    "OVC025",
    "TEMPO",
    "1020/1024",
    "2SM",
    "-RA",
    "BR",
    "OVC008",
    "PROB30",
    "1100/1104",
    "1/2SM",
    "FG",
    "VV002",
    "BECMG",
    "1104/1106",
    "9999",
    "NSC",
]


@given(at=st.integers(4, len(TAF) - 1), word=junk, repeat=st.booleans())
def test_every_token_of_a_forecast_is_read_or_kept(at: int, word: str, repeat: bool) -> None:
    tokens = [*TAF[:at], word, *TAF[at + (not repeat) :]]
    forecast = decode_forecast(" ".join(tokens), received_at=RECEIVED_AT)
    assert isinstance(forecast, Forecast)
    assert word.upper() in forecast.unread
    assert any(word.upper() in group.unread for group in forecast.groups)


@given(at=st.integers(4, len(TAF) - 1))
def test_a_period_that_cannot_be_read_holds_for_the_whole_forecast(at: int) -> None:
    """So that a change group never falls out of the window it was written for."""
    if "/" not in TAF[at] or "SM" in TAF[at]:
        return
    forecast = decode_forecast(" ".join([*TAF[:at], "99/99", *TAF[at + 1 :]]), received_at=RECEIVED_AT)
    assert isinstance(forecast, Forecast)
    (group,) = [group for group in forecast.groups if group.unread]
    assert (group.start, group.end) == (forecast.valid_from, forecast.valid_to)


texts = st.text(alphabet=st.characters(codec="utf-8"), max_size=80) | st.text(
    alphabet="ABCEFGKLMNOPQRSTUVWXZ0123456789/ =\n\x00\u00a0", max_size=120
)


@given(text=texts)
def test_no_text_raises(text: str) -> None:
    for raw in [text, f"KAAA 101553Z {text}", f"TAF KAAA 101130Z 1012/1112 {text}"]:
        for value in (
            decode_observation(raw, received_at=RECEIVED_AT),
            decode_forecast(raw, received_at=RECEIVED_AT),
        ):
            assert isinstance(value, Observation | Forecast | Unreadable)
            json.dumps(report_record(value), allow_nan=False)


@given(text=texts)
def test_splitting_a_text_never_raises_and_gives_no_empty_report(text: str) -> None:
    assert all(raw.strip() for raw in split_reports(text))


@settings(max_examples=30)
@given(seed=st.integers(0, 2**32 - 1))
def test_a_small_fuzzer_finds_nothing(seed: int) -> None:
    """Characters changed, tokens shuffled, dropped, doubled and joined, in a report and a forecast."""
    chance = random.Random(seed)  # noqa: S311 - a fuzzer, no secret
    for _ in range(20):
        tokens = [*chance.choice([REPORT, TAF])]
        for _ in range(chance.randint(1, 4)):
            at = chance.randrange(len(tokens))
            match chance.randrange(5):
                case 0:
                    tokens[at] = tokens[at][::-1]
                case 1:
                    tokens[at] = tokens[at][: chance.randrange(len(tokens[at]) + 1)] or "/"
                case 2:
                    tokens.insert(at, tokens[chance.randrange(len(tokens))])
                case 3:
                    tokens[at : at + 2] = ["".join(tokens[at : at + 2])]
                case _:
                    tokens[at] += chance.choice("/0Z9\x00\u00e9=-+")
        value = decode_any(" ".join(tokens), received_at=RECEIVED_AT)
        json.dumps(report_record(value), allow_nan=False)
        if isinstance(value, Observation) and value.unread:
            assert goodness(value) <= rank(Category.LIFR)


def test_a_naive_receipt_is_refused() -> None:
    with pytest.raises(InputError, match="has no zone"):
        decode_observation("KAAA 101553Z NIL", received_at=RECEIVED_AT.replace(tzinfo=None))
