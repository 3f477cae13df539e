"""What may stand in a query: names, kinds and bounds, for the check and for the OpenAPI document.

Numbers are checked here; texts only carry their form for the document, since what reads them (the
same as for the command line) says better what is wrong.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from refuge.aircraft.case import COLDEST_C, WARMEST_C
from refuge.errors import InputError
from refuge.options import Options, RouteOptions
from refuge.render.find_json import JSON_LIMIT
from refuge.wiring import HIGHEST_FT, LOWEST_CRUISE_FT, MOST_FUEL_MIN

MOST_FOUND, MOST_LISTED = 1000, 1000
MOST_WITHIN_NM = 250.0
MOST_BOX_DEG = (20.0, 40.0)
"""Height and width of a box at most, degrees."""
MOST_PLACES, MOST_OVER = 20, 5
"""Places of a way, and of detours, at most."""

_DAY = r"(?:0[1-9]|1\d|2[0-8])"
_DATE = (
    rf"(?:(?:19[7-9]\d|20\d\d)-(?:(?:0[1-9]|1[0-2])-{_DAY}|(?:0[13-9]|1[0-2])-(?:29|30)|(?:0[13578]|1[02])-31)"
    r"|(?:19(?:7[26]|8[048]|9[26])|20(?:[02468][048]|[13579][26]))-02-29)"
)
TIME = rf"^{_DATE}[T ](?:[01]\d|2[0-3]):[0-5]\d(?::[0-5]\d)?(?:Z|[+-](?:0\d|1[0-4]):[0-5]\d)$"
_LAT, _LON = r"(?:90|[0-8]?\d(?:\.\d{1,6})?)", r"(?:180|(?:1[0-7]\d|\d{1,2})(?:\.\d{1,6})?)"
_PLACE = rf"(?:[A-Z0-9]{{3,8}}|-?{_LAT},-?{_LON}|{_LAT}[NS],{_LON}[EW])"
PLACE = rf"^{_PLACE}$"
WIND = r"^(?:360|3[0-5]\d|[12]?\d?\d)/(?:250|2[0-4]\d|1?\d?\d)$"
NAME = r"^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$"
FAILURE = r"^(?:alternator|all|pump|display)(?:\+(?:alternator|all|pump|display))?$"


def _text(title: str, pattern: str, example: str) -> Any:  # noqa: ANN401 - FieldInfo is not public
    return Field(description=title, max_length=64, examples=[example], json_schema_extra={"pattern": pattern})


def _time(title: str) -> Any:  # noqa: ANN401 - as above
    return _text(f"{title} ISO 8601 with a zone, 1970 to 2099.", TIME, "2026-03-10T15:00Z")


Format = Annotated[Literal["json", "geojson"] | None, Field(description="Overrides what Accept asks for.")]


class Query(BaseModel):
    """A query: no names but these, so that a misspelt one is never passed over."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class Nothing(Query):
    """An address that takes nothing."""


class AboardQuery(Query):
    """What every question of a failure says of aircraft, minimums and evidence."""

    aircraft: Annotated[str, _text("Id of an aircraft, see /v1/aircraft.", NAME, "XA-GLASS")]
    minimums: Annotated[str, _text("Id of minimums, see /v1/minimums.", NAME, "XS-SCHOOL")]
    altitude: Annotated[
        float | None, Field(ge=LOWEST_CRUISE_FT, le=HIGHEST_FT, description="Cruising level, feet.")
    ] = None
    failure: Annotated[str, _text("What fails; two joined by +.", FAILURE, "alternator")] = "alternator"
    wind: Annotated[str | None, _text("Pilot's figure, true / knots.", WIND, "280/25")] = None
    lowest_safe: Annotated[
        float | None, Field(ge=0, le=HIGHEST_FT, description="The chart's lowest safe height, feet.")
    ] = None
    oat: Annotated[
        float | None, Field(ge=COLDEST_C, le=WARMEST_C, description="Temperature at the level, Celsius.")
    ] = None
    soak: Annotated[
        float | None, Field(ge=COLDEST_C, le=WARMEST_C, description="Temperature it stood in, Celsius.")
    ] = None
    fuel_min: Annotated[
        float | None, Field(ge=0, le=MOST_FUEL_MIN, description="Fuel aboard, minutes at cruise.")
    ] = None
    shed_min: Annotated[
        float | None,
        Field(ge=0, le=MOST_FUEL_MIN, description="The pilot begins to shed so long after the failure."),
    ] = None
    torch: Annotated[bool, Field(description="A torch is aboard, charged and in reach.")] = False
    handheld: Annotated[bool, Field(description="A handheld radio is aboard, charged.")] = False
    margin: Annotated[float | None, Field(ge=0, le=10000, description="Minutes kept in hand.")] = None
    now: Annotated[str | None, _time("Ask as of then: nothing received later is used.")] = None
    format: Format = None

    def aboard(self) -> dict[str, Any]:
        """Return what it says, as every door names it."""
        return {
            "aircraft": self.aircraft, "minimums": self.minimums, "altitude": self.altitude,
            "failure": self.failure, "wind": self.wind, "lowest_safe": self.lowest_safe,
            "oat_c": self.oat, "soak_c": self.soak,
            "fuel_min": self.fuel_min, "shed_min": self.shed_min,
            "torch": self.torch, "handheld": self.handheld, "margin_min": self.margin,
        }  # fmt: skip


class FindQuery(AboardQuery):
    """One question, named as the options of `refuge find`."""

    at: Annotated[str, _text("Where it turns: an identifier or a position.", PLACE, "44.0,-38.0")]
    fails: Annotated[str | None, _time("When the supply fails; as of now if not given.")] = None
    heading: Annotated[
        str | None, _text("Heading now: 270 by compass, 270T true.", r"^(?:360|3[0-5]\d|[12]?\d?\d)T?$", "270T")
    ] = None
    areas: Annotated[bool, Field(description="Where the weather is good around, when the budget ends.")] = False
    limit: Annotated[int, Field(ge=1, le=MOST_FOUND, description="Airfields shown; what meets always is.")] = (
        JSON_LIMIT
    )

    def options(self) -> Options:
        """Return the question as every door asks it."""
        return Options(at=self.at, fails=self.fails, heading=self.heading, **self.aboard())


def _places(title: str, most: int, example: str, *, least: int) -> Any:  # noqa: ANN401 - as above
    pattern = rf"^{_PLACE}(?:;{_PLACE}){{{least - 1},{most - 1}}}$"
    said = f"{title}, parted by semicolons; {most} at most."
    return Field(description=said, max_length=64 * most, examples=[example], json_schema_extra={"pattern": pattern})


def places_of(text: str, option: str, most: int) -> tuple[str, ...]:
    """Return the places that a text names, parted by semicolons.

    Raises
    ------
    InputError
        If there are too many.
    """
    found = tuple(place for part in text.split(";") if (place := part.strip()))
    if len(found) > most:
        raise InputError(f"{len(found)} places are too many", where=option, remedy=f"name {most} at most")
    return found


class RouteQuery(AboardQuery):
    """A whole flight, named as the options of `refuge route`."""

    places: Annotated[
        str,
        _places(
            "Where the way begins, leads over and ends: identifiers or positions", MOST_PLACES, "XTES;XLUM", least=1
        ),
    ]
    departs: Annotated[str | None, _time("When the flight begins; as of now if not given.")] = None
    from_position: Annotated[
        str | None,
        _text(
            "Already in the air, here: no climb, no departure slip; `places` are those ahead.", PLACE, "44.0,-38.0"
        ),
    ] = None
    since_failure: Annotated[
        float | None,
        Field(ge=0, le=10000, description="With `from_position`: the supply failed so many minutes before."),
    ] = None

    def options(self) -> RouteOptions:
        """Return the flight as every door asks of it.

        Raises
        ------
        InputError
            If there are too many places, or none.
        """
        named = places_of(self.places, "--places", MOST_PLACES)
        places = named if self.from_position is None else (self.from_position, *named)
        if len(places) < 2:
            raise InputError(
                "a flight needs two places at least", where="--places", remedy="name where it begins and ends"
            )
        return RouteOptions(
            at=places[0], places=places, departs=self.departs, airborne=self.from_position is not None,
            since_failure_min=self.since_failure, **self.aboard(),
        )  # fmt: skip


class WaysQuery(RouteQuery):
    """A whole flight, and detours to try."""

    over: Annotated[str | None, _places("Places to try a detour over", MOST_OVER, "XCOR", least=1)] = None


class BriefQuery(Query):
    """As of when a roster is briefed."""

    now: Annotated[str | None, _time("Ask as of then: nothing received later is used.")] = None


class ExpectQuery(Query):
    """A window, named as the options of `refuge expect`."""

    start: Annotated[str, Field(alias="from"), _time("Start of the window.")]
    end: Annotated[str, Field(alias="to"), _time("End of the window.")]
    now: Annotated[str | None, _time("Ask as of then.")] = None


class PlaceQuery(Query):
    """The form of one place."""

    format: Format = None


class AirfieldsQuery(Query):
    """A box, or a place and a distance."""

    bbox: Annotated[
        str | None,
        Field(
            description="West, south, east, north in degrees; west may be greater, across 180. At most"
            f" {MOST_BOX_DEG[1]:g} wide and {MOST_BOX_DEG[0]:g} high.",
            max_length=120, examples=["-40,42,-36,46"],
            json_schema_extra={"pattern": rf"^-?{_LON},-?{_LAT},-?{_LON},-?{_LAT}$"},
        ),
    ] = None  # fmt: skip
    near: Annotated[str | None, _text("An identifier or a position.", PLACE, "XCOR")] = None
    within_nm: Annotated[float, Field(gt=0, le=MOST_WITHIN_NM, description="Distance from `near`, NM.")] = 50.0
    limit: Annotated[int, Field(ge=1, le=MOST_LISTED, description="Airfields listed.")] = 100
    format: Format = None
