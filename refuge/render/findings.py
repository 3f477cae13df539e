"""What the check of an aircraft file found, as text and as JSON."""

import textwrap
from collections.abc import Sequence
from typing import Any

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.fitness import Finding, Mark
from refuge.flight.caution import CAUTION

WIDTH = 100
SHAPES: dict[Mark, str] = {"holds": "[v] holds  ", "fails": "[x] fails  ", "unknown": "<?> unknown"}


def findings_json(aircraft: Aircraft, found: Sequence[Finding]) -> dict[str, Any]:
    """Return what was found as an object: the aircraft, its findings in order, the caution."""
    return {
        "aircraft": {"id": aircraft.id, "name": aircraft.name},
        "findings": [{"rule": each.rule, "mark": each.mark, "why": each.why} for each in found],
        "caution": CAUTION,
    }


def findings_text(aircraft: Aircraft, found: Sequence[Finding], where: str) -> str:
    """Return what was found for a terminal: word and shape first, then the rule and why."""
    word = _usable(aircraft, sum(each.mark == "fails" for each in found))
    lines = [f"{aircraft.id} ({aircraft.name}): {where} {word}", ""]
    for each in found:
        text = f"{SHAPES[each.mark]}  {each.rule}: {each.why}"
        lines += textwrap.wrap(text, WIDTH, subsequent_indent=" " * 13)
    counts = {mark: sum(each.mark == mark for each in found) for mark in SHAPES}
    lines += ["", ", ".join(f"{count} {_verb(mark, count)}" for mark, count in counts.items())]
    lines += ["", *textwrap.wrap(CAUTION, WIDTH)]
    return "\n".join(lines) + "\n"


def _usable(aircraft: Aircraft, failing: int) -> str:
    """Return whether the file can be used: not without a look where a rule fails or nobody filled it in."""
    against = [f"{failing} {'rule fails' if failing == 1 else 'rules fail'}"] if failing else []
    against += ["it is a template not filled in"] if aircraft.unfilled else []
    return f"can be read, but {' and '.join(against)}" if against else "can be used"


def _verb(mark: Mark, count: int) -> str:
    """Return a mark as the verb after so many: 1 holds, 4 hold."""
    return mark if count == 1 else mark.removesuffix("s")
