"""A shortlist as JSON and as GeoJSON: the body of `refuge find --json` and of its HTTP twin."""

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from refuge.airfield import Airfield
from refuge.flight.alerts import flight_warnings
from refuge.flight.around import Around
from refuge.flight.caution import CAUTION
from refuge.flight.compass import Heading, Turn
from refuge.flight.entries import Entry, Evidence, entries, summary
from refuge.flight.good_weather import good_weather
from refuge.flight.minimums import Limits, Minimums
from refuge.flight.question import Question
from refuge.flight.runways import EndWind
from refuge.flight.shortlist import Shortlist, as_if_dry
from refuge.render.areas import areas_json
from refuge.render.compass import compass_notes
from refuge.render.dry import dry_json, shown_budget
from refuge.render.endurance import endurance_json
from refuge.weather.record import conditions_record
from refuge.zulu import iso

JSON_LIMIT = 200
"""So many entries where nobody says how many."""


def find_json(shortlist: Shortlist, *, limit: int | None = None, areas: bool = False) -> dict[str, Any]:
    """Return the object of interface.md, `refuge find`, to the letter, and some keys besides.

    Everything that meets is among the entries, whatever the limit; ``left_out`` counts the rest.
    ``areas`` of good weather are worked out only where they are asked for.
    """
    question, dry = shortlist.basis.question, as_if_dry(shortlist)
    shown = [entry_json(entry) for entry in entries(shortlist, limit)]
    return {
        "question": question_json(question),
        "data_as_of": _iso(shortlist.basis.situation.data_as_of),
        "endurance": endurance_json(question.endurance, margin_min=question.margin_min),
        "budget_min": shown_budget(shortlist),
        "summary": summary(shortlist),
        "independent_ways": shortlist.ways.count,
        "areas": areas_json(good_weather(shortlist.basis)) if areas else None,
        "entries": shown,
        "left_out": len(shortlist.basis.airfields) - len(shown),
        "as_if_dry": None
        if dry is None
        else dry_json(shortlist, dry, [entry_json(entry) for entry in entries(dry, limit)]),
        "assumptions": list(assumptions(shortlist)),
        "caution": CAUTION,
    }


def find_geojson(shortlist: Shortlist, *, limit: int | None = None, areas: bool = False) -> dict[str, Any]:
    """Return the same answer as a GeoJSON FeatureCollection (RFC 7946), one point an airfield."""
    body = find_json(shortlist, limit=limit, areas=areas)
    features = [
        {
            "type": "Feature",
            "id": entry["airfield"]["id"],
            "geometry": {"type": "Point", "coordinates": [entry["airfield"]["lon"], entry["airfield"]["lat"]]},
            "properties": entry,
        }
        for entry in body.pop("entries")
    ]
    return {"type": "FeatureCollection", "features": features} | body


def json_line(body: dict[str, Any]) -> str:
    """Return a body as the one line of JSON that every door gives."""
    return json.dumps(body, ensure_ascii=False) + "\n"


def question_json(question: Question) -> dict[str, Any]:
    """Return everything that was asked, as JSON values."""
    wind = question.wind
    return {
        "at": {"place": question.place, "lat": question.at.lat_deg, "lon": question.at.lon_deg},
        "now": iso(question.now),
        "fails_at": iso(question.fails_at),
        "failure": question.failure,
        "aircraft": {
            "id": question.aircraft.id,
            "name": question.aircraft.name,
            "tas_kt": question.aircraft.cruise_tas_kt,
            "descent_ft_min": question.aircraft.descent_ft_min,
        },
        "minimums": minimums_json(question.minimums),
        "margin_min": question.margin_min,
        "altitude_ft": question.altitude_ft,
        "wind": None if wind is None else {"dir_deg_true": wind.dir_deg_true, "speed_kt": wind.speed_kt},
        "lowest_safe_ft": question.lowest_safe_ft_amsl,
        "oat_c": question.oat_c,
        "soak_c": question.carried.soak_c,
        "fuel_min": question.carried.fuel_min,
        "shed_min": question.carried.shed_min,
        "torch": question.carried.torch,
        "handheld": question.handheld,
        "heading": _heading_json(question.heading),
        "slip_min": question.slip_min,
    }


def _heading_json(heading: Heading | None) -> dict[str, Any] | None:
    return None if heading is None else {"deg": heading.deg, "reference": heading.reference}


def minimums_json(minimums: Minimums) -> dict[str, Any]:
    """Return the minimums that count, as JSON values."""
    return {
        "id": minimums.id,
        "day": _limits_json(minimums.day),
        "night": None if minimums.night == "not planned" else _limits_json(minimums.night),
        "runway_length_ft": minimums.runway_length_ft,
        "hard_surface": minimums.hard_surface,
        "no_private": minimums.no_private,
        "max_crosswind_kt": minimums.max_crosswind_kt,
    }


def _limits_json(limits: Limits) -> dict[str, Any]:
    return {"ceiling_ft": limits.ceiling_ft, "visibility_sm": limits.visibility_sm}


def entry_json(entry: Entry) -> dict[str, Any]:
    """Return one entry as JSON values: instants, not ages."""
    return {
        "airfield": _airfield_json(entry.airfield),
        "verdict": entry.verdict,
        "reasons": list(entry.reasons),
        "checks": {name: {"verdict": check.verdict, "why": check.why} for name, check in entry.checks.items()},
        "track_deg_true": _number(entry.track_deg_true),
        "heading_deg_true": _number(entry.heading_deg_true),
        "heading_deg_compass": _number(entry.heading_deg_compass),
        "turn": _turn_json(entry.turn),
        "gs_kt": _number(entry.gs_kt),
        "distance_nm": _number(entry.distance_nm),
        "minutes": _number(entry.minutes),
        "break_out_min": _number(entry.break_out_min),
        "spare_min": _number(entry.spare_min),
        "error_radius_nm": _number(entry.error_radius_nm),
        "arrival_earliest": _iso(entry.arrival_earliest),
        "arrival_latest": _iso(entry.arrival_latest),
        "window": None if entry.window is None else {"from": iso(entry.window[0]), "to": iso(entry.window[1])},
        "night": entry.night,
        "prevailing": conditions_record(entry.prevailing),
        "adverse": conditions_record(entry.adverse),
        "evidence": [_evidence_json(item) for item in entry.evidence],
        "evidence_step": entry.evidence_step,
        "certainty": {"word": entry.certainty.word, "score": entry.certainty.score},
        "certainty_why": list(entry.certainty_why),
        "lack": _number(entry.lack),
        "marks": list(entry.marks),
        "best_runway": _best_runway_json(entry.best_runway),
        "density_altitude": entry.density_altitude,
        "advice": list(entry.advice),
        "around": around_json(entry.around),
        "independent_way": entry.independent_way,
    }


def around_json(found: Around) -> dict[str, Any]:
    """Return how an error circle divides among the stations around, as JSON values."""
    return {
        "good_share": _number(found.shares.good),
        "other_share": _number(found.shares.other),
        "untold_share": _number(found.shares.untold),
        "good": list(found.good),
        "missing": list(found.missing),
        "unknown": list(found.unknown),
        "lone": found.lone,
    }


def _best_runway_json(best: EndWind | None) -> dict[str, Any] | None:
    if best is None:
        return None
    return {
        "ident": best.ident,
        "landing_ft": best.landing_ft,
        "surface": best.runway.surface,
        "crosswind_kt": _number(best.crosswind_kt),
        "tailwind_kt": _number(best.tailwind_kt),
    }


def _turn_json(turn: Turn | None) -> dict[str, Any] | None:
    if turn is None:
        return None
    return {"side": turn.side, "degrees": _number(turn.degrees), "seconds": _number(turn.seconds)}


def _airfield_json(field: Airfield) -> dict[str, Any]:
    return {
        "id": field.id,
        "name": field.name,
        "lat": field.lat_deg,
        "lon": field.lon_deg,
        "elevation_ft": field.elevation_ft,
    }


def _evidence_json(item: Evidence) -> dict[str, Any]:
    return {
        "kind": item.kind,
        "station": item.station,
        "time": _iso(item.time),
        "stale_at": _iso(item.stale_at),
        "distance_nm": _number(item.distance_nm),
        "borrowed": item.borrowed,
        "raw": item.raw,
    }


def assumptions(shortlist: Shortlist) -> Iterator[str]:
    """Yield what the answer takes for granted, in words."""
    question = shortlist.basis.question
    yield from flight_warnings(shortlist.basis)
    yield from question.notes
    yield from shortlist.basis.winds.said
    yield (
        f"the aircraft turns {question.endurance.recognition_min:.0f} min after the failure, at {question.place};"
        f" {question.margin_min:.0f} min are kept in hand"
    )
    given = "as given" if question.altitude_given else "assumed, none was given"
    yield f"cruising level {question.altitude_ft:,.0f} ft ({given}); tops of cloud taken at that level"
    if question.lowest_safe_ft_amsl is not None:
        yield f"lowest safe {question.lowest_safe_ft_amsl:,.0f} ft above sea level: pilot's figure"
    yield "the whole descent is counted after arrival overhead"
    yield from compass_notes(shortlist.basis.compass)
    if shortlist.basis.situation.areas:
        yield "areas of airspace: those loaded, whatever their heights and hours; notices to airmen: not checked"
    else:
        yield "airspace and notices to airmen: not checked"


def _number(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _iso(instant: datetime | None) -> str | None:
    return None if instant is None else iso(instant)
