"""Aircraft and minimums that can be named by id, as JSON."""

from collections.abc import Mapping
from typing import Any

from refuge.aircraft.airframe import Aircraft
from refuge.flight.minimums import Minimums
from refuge.render.find_json import minimums_json

Json = dict[str, Any]


def aircraft_list_json(found: Mapping[str, Aircraft], unusable: Mapping[str, str]) -> Json:
    """Return aircraft by the id that names them, and why others of that kind cannot be used."""
    return {
        "aircraft": [
            {
                "id": name,
                "name": aircraft.name,
                "tas_kt": aircraft.cruise_tas_kt,
                "descent_ft_min": aircraft.descent_ft_min,
                "recognition_min": aircraft.recognition_min,
                "approved_for_icing": aircraft.approved_for_icing,
                "warning_light": aircraft.warning_light,
            }
            for name, aircraft in sorted(found.items())
        ],
        "unusable": _unusable_json(unusable),
    }


def minimums_list_json(found: Mapping[str, Minimums], unusable: Mapping[str, str]) -> Json:
    """Return minimums by the id that names them, and why others of that kind cannot be used."""
    return {
        "minimums": [
            minimums_json(minimums) | {"id": name, "margin_min": minimums.margin_min, "said": list(minimums.said)}
            for name, minimums in sorted(found.items())
        ],
        "unusable": _unusable_json(unusable),
    }


def _unusable_json(unusable: Mapping[str, str]) -> list[Json]:
    return [{"id": name, "error": error} for name, error in sorted(unusable.items())]
