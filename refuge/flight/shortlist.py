"""The shortlist: for one position, every airfield in question with its verdict, best first.

`build` is the seam: command line, HTTP, card and brief all go through it, and nothing else computes
an answer. Codes are worked out for all airfields at once; words are made for what is shown
(refuge.flight.words).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from refuge.flight.basis import Basis, basis_of
from refuge.flight.certainty import Certainty, Factors, certainties, factors
from refuge.flight.decide import CheckName, codes_of, lacks
from refuge.flight.independence import Ways, ways_of
from refuge.flight.question import Question
from refuge.flight.situation import Situation
from refuge.flight.state_arrays import Floats, Ints
from refuge.flight.verdict import MEETS, MISSES, NOT_CHECKED, WORDS, Codes, Word, worst


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortlist:
    """The verdicts of n airfields, in the order of ``basis.airfields``.

    ``codes`` holds one array of shape (n,) for each check, ``verdict`` their sum, ``lack`` by how
    much the worst check misses, ``order`` the indices best first, ``ways`` which of those that meet
    hang on evidence of their own, ``factors`` what certainty is made of.
    """

    basis: Basis
    codes: Mapping[CheckName, Codes]
    verdict: Codes
    lack: Floats
    certainty: tuple[Certainty, ...]
    factors: Factors
    order: Ints
    ways: Ways

    def word(self, index: int) -> Word:
        """Return the verdict of one airfield as a word."""
        return WORDS[int(self.verdict[index])]

    @property
    def meeting(self) -> int:
        """Return how many airfields meet every check."""
        return int((self.verdict == MEETS).sum())


def build(question: Question, situation: Situation) -> Shortlist:
    """Return the shortlist for a question in a situation: verdicts of all its airfields, best first."""
    basis = basis_of(question, situation)
    codes = codes_of(basis)
    verdict = worst(*codes.values())
    lack = lacks(basis, codes)
    made_of = factors(basis)
    certainty = certainties(made_of, verdict)
    order = _order(basis, codes, verdict, lack, np.array([c.score for c in certainty], dtype=float))
    return Shortlist(
        basis=basis,
        codes=codes,
        verdict=verdict,
        lack=lack,
        certainty=certainty,
        factors=made_of,
        order=order,
        ways=ways_of(basis.weighed, verdict, order),
    )


def as_if_dry(shortlist: Shortlist) -> Shortlist | None:
    """Return what the answer would be if airspeed did not end with pitot heat; to show, never to plan on.

    ``None`` where an airfield meets as it is, or where pitot heat shortens nothing (method.md 2).
    """
    dry = shortlist.basis.question.endurance.dry
    if shortlist.meeting or dry is None:
        return None
    return build(replace(shortlist.basis.question, endurance=dry), shortlist.basis.situation)


def _order(basis: Basis, codes: Mapping[CheckName, Codes], verdict: Codes, lack: Floats, score: Floats) -> Ints:
    """Return indices best first: by certainty and spare what meets, by what is open or lacking the rest.

    Among misses those whose prevailing weather meets come first (method.md 1), among unknowns those
    whose weather is known to meet: what nobody knows anything of never stands before it. A last resort
    (class B, a restricted area) stands behind all that come to the same.
    """
    misses = verdict == MISSES
    counted = np.stack([np.where(code == NOT_CHECKED, MEETS, code) for code in codes.values()])
    open_checks = (counted != MEETS).sum(axis=0)
    answer = basis.weighed.answer
    nothing = ~(answer.has_report | answer.has_forecast)
    unusual = np.where(
        misses, basis.weighed.prevailing != MEETS, (basis.weighed.weather != MEETS).astype(int) + nothing
    )
    last = basis.airspace.last_resort
    return np.lexsort(
        (
            basis.arrival.break_out_min,
            np.where(misses, lack, open_checks),
            unusual,
            -score,
            last,
            -verdict.astype(int),
        )
    )
