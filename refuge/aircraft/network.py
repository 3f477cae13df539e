"""The power network of one aircraft: its parts by id, checked, and what feeds what."""

from collections.abc import Mapping
from dataclasses import dataclass

from refuge.aircraft.faults import bus_faults, capacity_faults, load_faults, shed_faults, source_faults
from refuge.aircraft.parts import (
    FUNCTIONS,
    Bus,
    CapacityCheck,
    Chemistry,
    Duration,
    Function,
    Load,
    Shed,
    Source,
    SourceKind,
)
from refuge.errors import InputError

__all__ = [
    "FUNCTIONS",
    "Bus",
    "CapacityCheck",
    "Chemistry",
    "Duration",
    "Function",
    "Load",
    "Network",
    "Shed",
    "Source",
    "SourceKind",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Sources, buses and loads of one aircraft, by id, and the steps of shedding in order.

    A load with ``shed`` that no step names is switched off by the pilot at recognition.

    Raises
    ------
    InputError
        On anything that cannot be worked out: an unknown feeder, a loop, a stored source without
        duration. All faults are named together.
    """

    sources: Mapping[str, Source]
    buses: Mapping[str, Bus]
    loads: Mapping[str, Load]
    sheds: tuple[Shed, ...] = ()

    def __post_init__(self) -> None:
        sources, buses, loads = self.sources, self.buses, self.loads
        faults = [
            *source_faults(sources, buses),
            *bus_faults(sources, buses),
            *load_faults(sources, buses, loads),
            *shed_faults(loads, self.sheds),
        ]
        if not faults:
            faults = [*capacity_faults(sources, buses, loads)]
        if faults:
            raise InputError("; ".join(faults), remedy="mend these entries; template.toml explains each key")

    def givers(self, function: Function) -> tuple[Load, ...]:
        """Return the loads that give `function`, by id."""
        return tuple(self.loads[name] for name in sorted(self.loads) if function in self.loads[name].gives)

    def shed_loads(self) -> frozenset[str]:
        """Return the loads that are switched off when the load is shed."""
        named = {name for shed in self.sheds for name in shed.loads}
        return frozenset(named | {load.id for load in self.loads.values() if load.shed})
