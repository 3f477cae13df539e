"""Where and when the aircraft turns: one start for each row of a question, and the winds it goes by."""

from dataclasses import dataclass, fields
from datetime import datetime, timedelta

import numpy as np

from refuge.earth import Points
from refuge.flight.question import Question
from refuge.flight.reach import Limit, Reach, reach
from refuge.flight.situation import Situation
from refuge.flight.state_arrays import Bools, Floats, Ints
from refuge.flight.wind_fields import WindFields, wind_fields, winds_around
from refuge.flight.wind_times import regimes
from refuge.flight.winds import temperature_at


@dataclass(frozen=True, slots=True, kw_only=True)
class Starts:
    """Where and when the aircraft turns, by row; every array has shape (n,).

    ``turn_s`` is seconds since the epoch; ``wind`` the index in ``winds`` of the fields that hold then, ``share``
    how far that instant lies between the two times of these, where they have two.
    """

    lat_deg: Floats
    lon_deg: Floats
    turn_s: Floats
    wind: Ints
    share: Floats
    winds: tuple[WindFields, ...]

    @property
    def points(self) -> Points:
        """Return the positions alone."""
        return Points(lat_deg=self.lat_deg, lon_deg=self.lon_deg)

    def taken(self, rows: Ints | Bools) -> "Starts":
        """Return some of the rows."""
        return Starts(
            lat_deg=self.lat_deg[rows], lon_deg=self.lon_deg[rows], turn_s=self.turn_s[rows],
            wind=self.wind[rows], share=self.share[rows], winds=self.winds,
        )  # fmt: skip


def turn_at(question: Question) -> datetime:
    """Return when the aircraft turns: the failure is recognised and the load shed."""
    return question.fails_at + timedelta(minutes=question.endurance.recognition_min)


def one_start(question: Question, situation: Situation, n: int) -> Starts:
    """Return the start of a question, the same for all of n rows."""
    turn = turn_at(question)
    return Starts(
        lat_deg=np.full(n, question.at.lat_deg),
        lon_deg=np.full(n, question.at.lon_deg),
        turn_s=np.full(n, turn.timestamp()),
        wind=np.zeros(n, dtype=np.int64),
        share=np.zeros(n),
        winds=(wind_fields(question, situation, turn),),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WindsOver:
    """The winds of n instants: fields, and for each instant which of them hold and how far between their times."""

    winds: tuple[WindFields, ...]
    index: Ints
    share: Floats


def winds_over(question: Question, situation: Situation, at_s: Floats) -> WindsOver:
    """Return the wind fields of several instants (seconds since the epoch), those of the same bulletins once."""
    spans = regimes(situation.winds, at_s)
    winds = tuple(winds_around(question, situation, at) for at in spans.instants)
    return WindsOver(winds=winds, index=spans.index, share=spans.share)


def way_from(
    starts: Starts, lat_deg: Floats, lon_deg: Floats, *, tas_kt: float, limit: Limit | None = None
) -> Reach:
    """Return the way from each start to its place, in the winds of its time, with a limit as in `reach`."""
    held = np.flatnonzero(np.bincount(starts.wind)).tolist() or [0]
    parts = [np.flatnonzero(starts.wind == i) for i in held]
    ways = [
        reach(
            starts.taken(rows).points, lat_deg[rows], lon_deg[rows],
            tas_kt=tas_kt, winds=starts.winds[i].fields, share=starts.share[rows],
            limit=None if limit is None else limit.taken(rows),
        )
        for rows, i in zip(parts, held, strict=True)
    ]  # fmt: skip
    if len(ways) == 1:
        return ways[0]
    order = np.argsort(np.concatenate(parts), kind="stable")
    joined = {part.name: np.concatenate([getattr(way, part.name) for way in ways])[order] for part in fields(Reach)}
    return Reach(**joined)


def temperatures_at(starts: Starts) -> tuple[Floats, Bools]:
    """Return the temperature (C) at the level over each start, and where it is known."""
    celsius, known = np.zeros(starts.turn_s.shape), np.zeros(starts.turn_s.shape, dtype=bool)
    for i, winds in enumerate(starts.winds):
        rows = np.flatnonzero(starts.wind == i)
        if rows.size:
            celsius[rows], known[rows] = temperature_at(
                winds.temperatures, starts.lat_deg[rows], starts.lon_deg[rows], starts.share[rows]
            )
    return celsius, known
