"""Evidence for many airfields at many hours, against the plain reading of the method, one at a time."""

from datetime import timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refuge.flight.hourly import evidence_by_hour
from refuge.flight.minimums import Limits
from refuge.flight.question import Question
from refuge.flight.situation import Situation
from refuge.sun import is_day
from tests.core.flight.oracle import Asked, Oracle
from tests.core.flight.worlds import worlds

HALF = timedelta(minutes=30)


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(worlds(), st.lists(st.integers(0, 12), min_size=1, max_size=4, unique=True))
def test_every_field_and_hour_is_what_the_text_gives(world: tuple[Question, Situation], ahead: list[int]) -> None:
    question, known = world
    now = question.now
    hours = [now + timedelta(hours=h) for h in ahead]
    found = evidence_by_hour(known, now, hours, ceiling_ft=1500.0, visibility_sm=3.0)
    assert found.shape == (len(known.airfields), len(hours))
    for i, field in enumerate(known.airfields):
        for k, hour in enumerate(hours):
            asked = Asked(
                field=field, start=max(now, hour - HALF), end=hour + HALF, latest=hour,
                night=not bool(is_day(field.lat_deg, field.lon_deg, hour - HALF, hour + HALF)),
                radius_nm=3.0, limits=Limits(ceiling_ft=1500, visibility_sm=3),
            )  # fmt: skip
            assert int(found[i, k]) == int(Oracle(known, now, asked).weather())


def test_an_hour_that_has_passed_is_unknown() -> None:
    from tests.core.flight import situations as s

    where = s.at(90.0, 5.0)
    known = s.situation(
        [s.airfield("F", where, station="XA")], [s.station("XA", where)],
        reports=[s.report("XA", s.conditions(8000, 10.0))],
    )  # fmt: skip
    hours = [s.NOW - timedelta(hours=1), s.NOW]
    assert evidence_by_hour(known, s.NOW, hours, ceiling_ft=1500.0, visibility_sm=3.0).tolist() == [[1, 2]]
