"""What an import read, kept, dropped, merged and changed, and why."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

Outcome = Literal["dropped", "merged", "changed", "noted"]
"""``dropped``: not in the store; ``merged``: two records became one; ``changed``: kept with other
values than the source gives; ``noted``: kept as it is, but one should know."""

OUTCOMES: tuple[Outcome, ...] = ("dropped", "merged", "changed", "noted")
EXAMPLES = 3
"""Examples named for each reason."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One reason, how often it applied, and a few of those it applied to."""

    outcome: Outcome
    reason: str
    count: int
    examples: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportReport:
    """What became of one source: records read by kind, records kept, and every finding."""

    source: str
    read: tuple[tuple[str, int], ...]
    kept: tuple[tuple[str, int], ...]
    findings: tuple[Finding, ...]

    def count(self, outcome: Outcome, reason: str) -> int:
        """Return how often `reason` led to `outcome`; 0 if it never did."""
        return sum(f.count for f in self.findings if f.outcome == outcome and f.reason == reason)

    def as_json(self) -> dict[str, object]:
        """Return the report in JSON types."""
        return {
            "source": self.source,
            "read": dict(self.read),
            "kept": dict(self.kept),
            "findings": [
                {"outcome": f.outcome, "reason": f.reason, "count": f.count, "examples": list(f.examples)}
                for f in self.findings
            ],
        }

    def lines(self) -> list[str]:
        """Return the report as lines of text, most frequent reason first within each outcome."""
        out = [f"source: {self.source}"]
        out += [f"read   {count:>8,}  {what}" for what, count in self.read]
        out += [f"kept   {count:>8,}  {what}" for what, count in self.kept]
        for outcome in OUTCOMES:
            found = [f for f in self.findings if f.outcome == outcome]
            out += [f"{outcome}:"] if found else []
            for f in sorted(found, key=lambda f: -f.count):
                examples = f" ({', '.join(f.examples)})" if f.examples else ""
                out.append(f"       {f.count:>8,}  {f.reason}{examples}")
        return out


@dataclass(slots=True)
class Tally:
    """The findings while an import runs; the one thing here that changes."""

    _counts: dict[tuple[Outcome, str], int] = field(default_factory=dict)
    _examples: dict[tuple[Outcome, str], list[str]] = field(default_factory=dict)

    def add(self, outcome: Outcome, reason: str, which: Iterable[object]) -> None:
        """Count each of `which` under `reason`, keeping the first few as examples."""
        named = [str(one) for one in which]
        if not named:
            return
        key = (outcome, reason)
        self._counts[key] = self._counts.get(key, 0) + len(named)
        examples = self._examples.setdefault(key, [])
        examples += [one for one in named[:EXAMPLES] if one][: EXAMPLES - len(examples)]

    def findings(self) -> tuple[Finding, ...]:
        """Return what was counted, by outcome, in the order in which it first came up."""
        return tuple(
            Finding(outcome=key[0], reason=key[1], count=count, examples=tuple(self._examples[key]))
            for outcome in OUTCOMES
            for key, count in self._counts.items()
            if key[0] == outcome
        )
