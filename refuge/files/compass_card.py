"""The ``[compass_card]`` table of an aircraft file."""

from typing import Annotated

from pydantic import Field, StringConstraints

from refuge.aircraft.airframe import CompassCard
from refuge.files.toml import Strict

Heading = Annotated[float, Field(ge=0, le=360)]


class CompassCardTable(Strict):
    """``for = [360, 30, ...]``, ``steer = [358, 29, ...]``, and ``steer_radios_off`` where the card has it."""

    wanted: list[Heading] = Field(alias="for")
    steer: list[Heading]
    steer_radios_off: list[Heading] | None = None
    source: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]

    def card(self) -> CompassCard:
        """Return the card that the table holds.

        Raises
        ------
        InputError
            If a column does not go once round, or corrects more than a compass may be off.
        """
        return CompassCard(
            for_deg_mag=tuple(self.wanted),
            steer_deg=tuple(self.steer),
            steer_radios_off_deg=None if self.steer_radios_off is None else tuple(self.steer_radios_off),
            source=self.source,
        )
