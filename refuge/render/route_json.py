"""A plan of a flight as JSON and as GeoJSON: the body of `refuge route --json` and of its HTTP twin."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from refuge.earth import Position
from refuge.flight.alerts import template_warnings
from refuge.flight.caution import CAUTION
from refuge.flight.route import GAP_BUDGET_MIN, EqualTime, Plan, Stretch, as_if_dry, entry_at, why_gap
from refuge.flight.starts import winds_over
from refuge.flight.track import RouteQuestion
from refuge.render.dry import NOT_A_PLAN, pitot_heat_text
from refuge.render.endurance import endurance_json
from refuge.render.find_json import entry_json, question_json
from refuge.zulu import iso

CERTAINTY = ("none", "low", "fair", "high")
BUDGET_SAID = (
    f"the gap budget of {GAP_BUDGET_MIN:.0f} min follows a pattern that was set for other failure rates: it divides"
    " 'within' from 'look again', and never says 'go'"
)


def route_json(plan: Plan) -> dict[str, Any]:
    """Return the object of a whole flight; every refuge that is best or second somewhere is in ``refuges``."""
    asked = plan.asked
    return {
        "question": route_question_json(asked),
        "data_as_of": None if plan.situation.data_as_of is None else iso(plan.situation.data_as_of),
        "endurance": endurance_json(plan.endurance, margin_min=asked.question.margin_min),
        "summary": route_summary(plan),
        "total_min": _number(plan.track.total_min),
        "distance_nm": _number(plan.track.distance_nm),
        "minutes": [_minute_json(plan, minute) for minute in plan.track.minutes.tolist()],
        "stretches": [_stretch_json(plan, stretch) for stretch in plan.stretches],
        "gaps": [_gap_json(plan, gap) for gap in plan.gaps],
        "gap_min": plan.gap_min,
        "visual_min": plan.visual_min,
        "gap_budget_min": _number(GAP_BUDGET_MIN),
        "within_gap_budget": plan.within_budget,
        "equal_times": [_equal_json(plan, point) for point in plan.equal_times],
        "last_chances": [_chance_json(plan, i) for i in range(len(plan.chances))],
        "refuges": [entry_json(entry_at(plan, field, minute)) for field, minute in shown(plan)],
        "as_if_dry": _dry_json(plan),
        "assumptions": list(route_assumptions(plan)),
        "caution": CAUTION,
    }


def _dry_json(plan: Plan) -> dict[str, Any] | None:
    """Return what the flight would come to if airspeed did not end with pitot heat; no refuge of it is one."""
    dry = as_if_dry(plan)
    if dry is None:
        return None
    return {
        "note": f"{pitot_heat_text(plan.shortened, dry.endurance, alone=not dry.gaps)}. {NOT_A_PLAN.capitalize()}",
        "endurance": endurance_json(dry.endurance, margin_min=plan.asked.question.margin_min),
        "summary": route_summary(dry),
        "stretches": [_stretch_json(dry, stretch) for stretch in dry.stretches],
        "gap_min": dry.gap_min,
        "visual_min": dry.visual_min,
    }


def route_geojson(plan: Plan) -> dict[str, Any]:
    """Return the same as a GeoJSON FeatureCollection (RFC 7946): stretches as lines, refuges as points."""
    body = route_json(plan)
    lines = [
        {
            "type": "Feature",
            "id": f"stretch-{i}",
            "geometry": _line(plan, stretch),
            "properties": body["stretches"][i],
        }
        for i, stretch in enumerate(plan.stretches)
    ]
    points = [
        {
            "type": "Feature",
            "id": entry["airfield"]["id"],
            "geometry": {"type": "Point", "coordinates": [entry["airfield"]["lon"], entry["airfield"]["lat"]]},
            "properties": entry,
        }
        for entry in body.pop("refuges")
    ]
    return {"type": "FeatureCollection", "features": [*lines, *points]} | body


def _line(plan: Plan, stretch: Stretch) -> dict[str, Any]:
    """Return the way of a stretch; cut where it crosses 180 degrees, as RFC 7946 3.1.9 asks."""
    ends = np.minimum(np.arange(stretch.from_min, stretch.to_min + 1, dtype=float), plan.track.total_min)
    lat, lon = plan.track.at(ends)
    parts: list[list[list[float]]] = [[]]
    for i in range(lat.size):
        if i and abs(lon[i] - lon[i - 1]) > 180.0:
            side = 180.0 if lon[i - 1] > 0 else -180.0
            over = abs(side - lon[i - 1]) / (360.0 - abs(lon[i] - lon[i - 1]))
            crossing = float(lat[i - 1] + over * (lat[i] - lat[i - 1]))
            parts[-1].append([side, round(crossing, 5)])
            parts.append([[-side, round(crossing, 5)]])
        parts[-1].append([round(float(lon[i]), 5), round(float(lat[i]), 5)])
    if len(parts) == 1:
        return {"type": "LineString", "coordinates": parts[0]}
    return {"type": "MultiLineString", "coordinates": parts}


def route_question_json(asked: RouteQuestion) -> dict[str, Any]:
    """Return everything that was asked of a flight, as JSON values."""
    return question_json(asked.question) | {
        "route": [
            {"place": point.place, "lat": point.at.lat_deg, "lon": point.at.lon_deg} for point in asked.waypoints
        ],
        "departs": iso(asked.departs),
        "airborne": asked.airborne,
        "since_failure_min": asked.since_failure_min,
    }


def shown(plan: Plan) -> Iterator[tuple[int, int]]:
    """Yield the refuges that a minute names, in the order of the flight, each with its nearest minute."""
    wanted = {int(plan.meeting.field[pair]) for pairs in plan.ranked for pair in pairs[:2]}
    apart = (plan.independent(minute) for minute in range(len(plan.ranked)))
    wanted |= {int(plan.meeting.field[pair]) for pair in apart if pair is not None}
    for chance in plan.chances:
        if chance.field in wanted:
            yield chance.field, chance.nearest_min


def _minute_json(plan: Plan, minute: int) -> dict[str, Any]:
    pairs = plan.ranked[minute]
    apart = plan.independent(minute)
    return {
        "t": iso(plan.instant(minute)),
        "lat": round(float(plan.lat_deg[minute]), 5),
        "lon": round(float(plan.lon_deg[minute]), 5),
        "best": _pair_json(plan, pairs[0]) if pairs else None,
        "second": _pair_json(plan, pairs[1]) if len(pairs) > 1 else None,
        "second_independent": plan.second_independent(minute),
        "independent": None if apart is None else _pair_json(plan, apart),
        "ways": int(plan.ways[minute]),
        "visual": bool(plan.visual[minute]),
        "night": bool(plan.night[minute]),
    }


def _pair_json(plan: Plan, pair: int) -> dict[str, Any]:
    found = plan.meeting
    return {
        "id": plan.field(int(found.field[pair])).id,
        "break_out_min": _number(float(found.break_out_min[pair])),
        "spare_min": _number(float(found.spare_min[pair])),
        "certainty": {"word": CERTAINTY[int(found.word[pair])], "score": float(found.score[pair])},
    }


def _place_json(plan: Plan, minute: float) -> dict[str, Any]:
    lat, lon = plan.track.at(np.array([minute]))
    return {"lat": round(float(lat[0]), 5), "lon": round(float(lon[0]), 5)}


def _span_json(plan: Plan, stretch: Stretch) -> dict[str, Any]:
    end = min(float(stretch.to_min), max(plan.track.total_min, stretch.from_min))
    return {
        "from": iso(plan.instant(stretch.from_min)),
        "to": iso(plan.instant(end)),
        "minutes": stretch.to_min - stretch.from_min,
        "starts_at": _place_json(plan, stretch.from_min),
        "ends_at": _place_json(plan, end),
    }


def _stretch_json(plan: Plan, stretch: Stretch) -> dict[str, Any]:
    return _span_json(plan, stretch) | {
        "state": stretch.state,
        "night": stretch.night,
        "refuge": None if stretch.field is None else plan.field(stretch.field).id,
        "least_spare_min": _number(stretch.least_spare_min),
        "second_independent": None if stretch.field is None else _always_second(plan, stretch),
    }


def _always_second(plan: Plan, stretch: Stretch) -> bool:
    """Return whether the second refuge of every minute of a stretch rests on other evidence than the best."""
    return all(plan.second_independent(minute) for minute in range(stretch.from_min, stretch.to_min))


def _gap_json(plan: Plan, gap: Stretch) -> dict[str, Any]:
    reason = why_gap(plan, gap)
    found = reason.closest
    closest = (
        None
        if found is None
        else {
            "t": iso(plan.instant(reason.minute)),
            "id": found.airfield.id,
            "verdict": found.verdict,
            "reasons": list(found.reasons),
            "break_out_min": _number(found.break_out_min),
            "spare_min": _number(found.spare_min),
        }
    )
    return _span_json(plan, gap) | {"why": reason.why, "closest": closest}


def _equal_json(plan: Plan, point: EqualTime) -> dict[str, Any]:
    return {
        "between": [plan.field(field).id for field in point.fields],
        "t": iso(plan.instant(point.passes_min)),
        **_position(point.at),
        "minutes": _number(point.minutes),
    }


def _position(at: Position) -> dict[str, Any]:
    return {"lat": round(at.lat_deg, 5), "lon": round(at.lon_deg, 5)}


def _chance_json(plan: Plan, i: int) -> dict[str, Any]:
    chance = plan.chances[i]
    return {
        "refuge": plan.field(chance.field).id,
        "first": iso(plan.instant(chance.first_min)),
        "last": iso(plan.instant(chance.last_min)),
        **_place_json(plan, chance.last_min),
        "spare_min": _number(chance.spare_at_last_min),
        "best_for_min": chance.best_for_min,
    }


def route_summary(plan: Plan) -> str:
    """Return one line: the minutes without a refuge against the budget, and those in visual conditions apart."""
    total, gap = plan.track.minutes.size, plan.gap_min
    night = f" ({plan.visual_night_min} of them by night)" if plan.visual_night_min else ""
    visual = f", {plan.visual_min} more in visual conditions{night}" if plan.visual_min else ""
    if not gap and plan.visual_min == total:
        return f"in visual conditions in every one of {total} minutes{night}, and no refuge in any"
    if not gap:
        every = f"every one of {total}" if not visual else f"{total - plan.visual_min} of {total}"
        return f"a refuge in {every} minutes{visual}"
    judged = "within the gap budget" if plan.within_budget else "look again: over the gap budget"
    return f"{gap} of {total} minutes without a refuge{visual}; {judged} of {GAP_BUDGET_MIN:.0f} min"


def route_assumptions(plan: Plan) -> Iterator[str]:
    """Yield what the plan takes for granted, in words, each once."""
    yield from dict.fromkeys(_assumptions(plan))


def _assumptions(plan: Plan) -> Iterator[str]:
    asked, question = plan.asked, plan.asked.question
    yield from template_warnings(question.aircraft)
    for block in asked.blocks:
        yield from block.notes
    yield from question.notes
    over = over_first(asked)
    yield from () if over is None else (over,)
    at_s = asked.departs.timestamp() + 60.0 * np.arange(0.0, plan.track.minutes.size, 10.0)
    for winds in winds_over(question, plan.situation, at_s).winds:
        yield from winds.said
    if not plan.track.wind_known:
        yield "no wind is known for part of the way: its times there are those in still air"
    yield _turning(plan)
    yield f"{question.margin_min:.0f} min are kept in hand; a departure slip of {question.slip_min:.0f} min"
    given = "as given" if question.altitude_given else "assumed, none was given"
    yield (
        f"cruising level {question.altitude_ft:,.0f} ft ({given}): every descent is counted from there, also in the"
        " climb; tops of cloud taken at that level"
    )
    if plan.track.climb_ft_min is None and not asked.airborne:
        yield "no climb figures in the aircraft's file: the climb is flown at cruising speed, and credits no sight"
    if question.lowest_safe_ft_amsl is not None:
        yield f"lowest safe {question.lowest_safe_ft_amsl:,.0f} ft above sea level, everywhere: pilot's figure"
    yield "the whole descent is counted after arrival overhead"
    yield BUDGET_SAID
    if plan.situation.areas:
        yield "areas of airspace: those loaded, whatever their heights and hours; notices to airmen: not checked"
    else:
        yield "airspace and notices to airmen: not checked"


def over_first(asked: RouteQuestion) -> str | None:
    """Return that a way from the air goes over a place before its end, which may lie behind; ``None`` if none."""
    if not asked.airborne or len(asked.waypoints) < 3:
        return None
    _, *between, last = (point.place for point in asked.waypoints)
    named = f"over {', '.join(between)} to {last}"
    return f"the way goes from the position {named}, in that order: leave out of it what lies behind"


def _turning(plan: Plan) -> str:
    """Return when the aircraft turns in the question of a minute."""
    asked, recognition = plan.asked, plan.asked.blocks[0].endurance.recognition_min
    if asked.since_failure_min is None:
        return (
            f"the aircraft flies on until recognition ({recognition:.0f} min), or to the end of the way, and turns"
        )
    since = asked.since_failure_min
    early = f", {recognition:.0f} min after the failure at the earliest" if since < recognition else ""
    return f"the supply failed {since:.0f} min before; each minute asks what is left on turning then{early}"


def _number(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
