"""Two endurances side by side, as text."""

import math
from collections.abc import Iterator

from refuge.aircraft.endurance import Endurance, budget_min
from refuge.render.bars import LEGEND, bar, ruler, scale_min, words
from refuge.render.endurance import notes


def compared_text(first: tuple[str, Endurance], second: tuple[str, Endurance], *, margin_min: float) -> str:
    """Return two endurances side by side, and the bars of each function one above the other."""
    rows = [("", first[0], second[0]), *_rows(first[1], second[1], margin_min)]
    widths = [max(len(row[column]) for row in rows) for column in range(2)]
    lines = [f"  {row[0].ljust(widths[0])}  {row[1].ljust(widths[1])}  {row[2]}" for row in rows]
    span = scale_min([first[1], second[1]])
    name_width = max(len(name) for name in first[1].functions)
    lines += ["", "  " + " " * (name_width + 5) + ruler(span)]
    for name, end in first[1].functions.items():
        other = second[1].functions[name]
        if {end.state, other.state} != {"absent"}:
            lines.append(f"  {name.ljust(name_width)}  1  {bar(end, span) or 'absent'}")
            lines.append(f"  {' ' * name_width}  2  {bar(other, span) or 'absent'}")
    lines += ["", f"  1 {first[0]}, 2 {second[0]}; {LEGEND}"]
    for label, found in (first, second):
        lines += notes(f"Warnings for {label}", found.warnings)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _rows(first: Endurance, second: Endurance, margin_min: float) -> Iterator[tuple[str, str, str]]:
    yield "information", _minutes(first.information_min), _minutes(second.information_min)
    yield "before derating", _minutes(first.nominal_min), _minutes(second.nominal_min)
    yield "budget", _minutes(budget_min(first, margin_min)), _minutes(budget_min(second, margin_min))
    yield "limited by", first.limited_by, second.limited_by
    yield "dependable", "yes" if first.dependable else "NO", "yes" if second.dependable else "NO"
    for name, end in first.functions.items():
        yield name, words(name, end), words(name, second.functions[name])


def _minutes(value: float | None) -> str:
    return "UNKNOWN" if value is None else f"{math.floor(value)} min"
