"""What holds for the whole flight and must be read first: ice at the level, old data, a wind that differs."""

from collections.abc import Iterator

from refuge.aircraft.airframe import Aircraft
from refuge.flight.basis import Basis
from refuge.flight.checks import ICING_COLDEST_C, ICING_WARMEST_C
from refuge.flight.decide import cruise_temperature_c
from refuge.flight.situation import is_old

OLD_SAID = "WARNING: the data are old: nothing is known of the weather now"


def template_warnings(aircraft: Aircraft) -> Iterator[str]:
    """Yield what to say of an aircraft whose file nobody filled in: nothing of any other."""
    if aircraft.unfilled_said:
        yield f"WARNING: {aircraft.unfilled_said}"


def flight_warnings(basis: Basis) -> Iterator[str]:
    """Yield the warnings of one question, the same for every airfield."""
    question = basis.question
    yield from template_warnings(question.aircraft)
    cruise_c, source = cruise_temperature_c(basis)
    approved = question.aircraft.approved_for_icing
    if cruise_c is not None and ICING_COLDEST_C <= cruise_c <= ICING_WARMEST_C and not approved:
        yield (
            f"WARNING: {cruise_c:+.0f} C at {question.altitude_ft:,.0f} ft ({source}): the cruise itself may ice in"
            " cloud, and the aircraft is not approved for it"
        )
    if is_old(basis.situation.data_as_of, question.now):
        yield OLD_SAID
    yield from basis.winds.warnings
