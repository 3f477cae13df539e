"""The FAA's sites laid over airfields of another source: by identifier and position, never by one alone.

A site is an airfield's when one of its codes is one of the airfield's and both lie within 1.5 NM. A
table of runways alone has no positions: there a runway of the same name and nearly the same length must be
at both. Where the two sources contradict each other the conflict is listed, and the worse value counts: the
shorter runway, the closed one. What the FAA does not say stays as it was.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from refuge.airfield import Airfield, LightDetail, LightKind, Runway, ends_of
from refuge.earth import distances_nm
from refuge.gazetteer.nasr import Site
from refuge.gazetteer.report import ImportReport, Tally
from refuge.gazetteer.time_zones import time_zone_of

WITHIN_NM = 1.5
"""A proposal: reference points of one field differ by less, neighbours of the same code by more."""
SAME_LENGTH = 0.05
ELEVATION_FT = 50.0
LENGTH_FT = 50
TURN_DEG = 10.0
OF_THE_US = frozenset({"US", "PR", "GU", "VI", "AS", "MP", "UM"})
NOT_FOR_WHEELS = {"H": "heliport", "C": "seaplane base", "B": "balloonport"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlaid:
    """Airfields with what the sites say of them, their codes, and what was found."""

    airfields: tuple[Airfield, ...]
    codes: Mapping[str, tuple[str, ...]]
    report: ImportReport


def overlay(
    airfields: Sequence[Airfield],
    codes: Mapping[str, tuple[str, ...]],
    sites: Sequence[Site],
    zones: Mapping[str, tuple[float, float, str]],
    tally: Tally,
) -> Overlaid:
    """Return `airfields` with `sites` laid over them; sites that none of them is are added.

    `codes` are those of the airfields by identifier; `zones` time zones by code (refuge.gazetteer.time_zones).
    """
    fields: dict[str, Airfield] = {field.id: field for field in airfields}
    all_codes = dict(codes)
    found = _matches(list(fields.values()), all_codes, sites, tally)
    places = list(fields.values())
    laid = 0
    for number, site in enumerate(sites):
        if (id_ := found.get(number)) is not None:
            kept = _laid(fields[id_], site, tally)
            laid += kept is not None
            if kept is None:
                del fields[id_]
                continue
        elif (kept := _new(site, places, fields, tally)) is None:
            continue
        all_codes[kept.id] = tuple(dict.fromkeys((*all_codes.get(kept.id, ()), *site.codes)))
        fields[kept.id] = _timed(kept, all_codes[kept.id], zones, tally)
    source = sites[0].source if sites else "FAA"
    report = ImportReport(
        source=f"{source}, laid over the store's airfields",
        read=(("sites", len(sites)), ("airfields of the store", len(airfields))),
        kept=(("airfields", len(fields)), ("airfields that a site was laid over", laid)),
        findings=tally.findings(),
    )
    return Overlaid(airfields=tuple(fields.values()), codes=all_codes, report=report)


def _matches(
    fields: list[Airfield], codes: Mapping[str, tuple[str, ...]], sites: Sequence[Site], tally: Tally
) -> dict[int, str]:
    """Return the airfield of each site, by the site's number; each airfield once, the nearest site first."""
    by_code: dict[str, list[Airfield]] = {}
    for field in fields:
        style = f"K{field.id}" if field.country == "US" else field.id
        for code in dict.fromkeys((field.id, style, *codes.get(field.id, ()))):
            by_code.setdefault(code, []).append(field)
    candidates: list[tuple[float, int, str]] = []
    for number, site in enumerate(sites):
        same = {f.id: f for code in site.codes for f in by_code.get(code, ()) if f.country in OF_THE_US}
        near = [(_apart(site, field), field) for field in same.values()]
        candidates += [(nm, number, field.id) for nm, field in near if nm <= WITHIN_NM]
        if near and min(nm for nm, _ in near) > WITHIN_NM:
            tally.add("dropped", "match by code alone: elsewhere, or another runway", [f"{site.arpt_id}"])
    found: dict[int, str] = {}
    taken: set[str] = set()
    for _, number, id_ in sorted(candidates):
        if number not in found and id_ not in taken:
            found[number] = id_
            taken.add(id_)
    return found


def _apart(site: Site, field: Airfield) -> float:
    """Return how far a site is from an airfield; without a position 0 if they have a runway in common, else inf."""
    if site.lat_deg is None or site.lon_deg is None:
        return 0.0 if any(_same(a, b) for a in site.runways or () for b in field.runways or ()) else np.inf
    away = distances_nm(
        np.array(site.lat_deg), np.array(site.lon_deg), np.array(field.lat_deg), np.array(field.lon_deg)
    )
    return float(away)


def _same(a: Runway, b: Runway) -> bool:
    if _plain(a.idents) != _plain(b.idents) or a.length_ft is None or b.length_ft is None:
        return False
    return abs(a.length_ft - b.length_ft) <= SAME_LENGTH * a.length_ft


def _plain(idents: str) -> frozenset[str]:
    return frozenset(end.lstrip("0") for end in idents.upper().split("/"))


def _laid(field: Airfield, site: Site, tally: Tally) -> Airfield | None:
    """Return the airfield with what the site says; ``None`` where the FAA has it closed or not for wheels."""
    if site.kind in NOT_FOR_WHEELS or site.open is False:
        why = NOT_FOR_WHEELS.get(site.kind, "closed")
        tally.add("dropped", f"conflict: an airfield of the store is {why} by the FAA", [field.id])
        return None
    named = site.lat_deg is not None
    lights, detail = (site.lights, site.lights_detail) if named else _by_runways(field, site)
    older = [part for part in field.source.split("; ") if part and not part.startswith("FAA ")]
    return replace(
        field,
        elevation_ft=_elevation_ft(field, site, tally),
        runways=field.runways if site.runways is None else _strips(field, site.runways, tally),
        lights=lights,
        lights_detail=detail,
        tower=site.tower if named else field.tower,
        class_b=field.class_b if site.class_b is None else site.class_b,
        private=field.private if site.private is None else site.private,
        source="; ".join([*older, site.source]),
    )


def _by_runways(field: Airfield, site: Site) -> tuple[LightKind, LightDetail]:
    """Return what the table of runways alone tells of the lights: that there are none, or that there are some."""
    lit = {strip.lighted for strip in site.runways or ()}
    if lit == {False}:
        return "none", LightDetail(source=site.source)
    if True in lit and field.lights == "none":
        return "unknown", LightDetail(source=site.source)
    return field.lights, field.lights_detail


def _elevation_ft(field: Airfield, site: Site, tally: Tally) -> float | None:
    if site.elevation_ft is None:
        return field.elevation_ft
    if field.elevation_ft is not None and abs(field.elevation_ft - site.elevation_ft) > ELEVATION_FT:
        tally.add(
            "changed",
            f"conflict: elevations differ by over {ELEVATION_FT:.0f} ft: the FAA's counts",
            [f"{field.id}: {field.elevation_ft:.0f}, FAA {site.elevation_ft:.0f}"],
        )
    return site.elevation_ft


def _strips(field: Airfield, theirs: tuple[Runway, ...], tally: Tally) -> tuple[Runway, ...]:
    ours = {_plain(runway.idents): runway for runway in field.runways or ()}
    names = {_plain(runway.idents) for runway in theirs}
    gone = [runway.idents for name, runway in ours.items() if name not in names and not runway.closed]
    if field.runways is not None:
        tally.add("dropped", "conflict: runway that the FAA does not have", [f"{field.id} {name}" for name in gone])
        new = [runway.idents for runway in theirs if _plain(runway.idents) not in ours]
        tally.add("noted", "conflict: runway that only the FAA has: taken", [f"{field.id} {name}" for name in new])
    return tuple(_strip(field, runway, ours.get(_plain(runway.idents)), tally) for runway in theirs)


def _strip(field: Airfield, theirs: Runway, ours: Runway | None, tally: Tally) -> Runway:
    """Return the FAA's runway, with what the other source says worse of it."""
    if ours is None:
        return theirs
    name = f"{field.id} {theirs.idents}"
    if ours.closed:
        tally.add("changed", "conflict: runway closed by the other source: taken as closed", [name])
    theirs = replace(theirs, closed=theirs.closed or ours.closed)
    theirs = _headed(name, theirs, ours, tally)
    return _shortened(name, theirs, ours, tally)


def _shortened(name: str, theirs: Runway, ours: Runway, tally: Tally) -> Runway:
    """Return the FAA's runway no longer than the other source has it; what is left to land on goes with it."""
    if ours.length_ft is None or theirs.length_ft is None:
        return theirs
    lost = theirs.length_ft - ours.length_ft
    if abs(lost) > LENGTH_FT:
        text = f"{name}: {ours.length_ft}, FAA {theirs.length_ft}"
        tally.add("changed", "conflict: runway lengths differ: the shorter counts", [text])
    if lost <= 0:
        return theirs
    ends = tuple(
        replace(end, landing_ft=None if end.landing_ft is None else max(end.landing_ft - lost, 0))
        for end in theirs.ends
    )
    return replace(theirs, length_ft=ours.length_ft, ends=ends)


def _headed(name: str, theirs: Runway, ours: Runway, tally: Tally) -> Runway:
    """Return the FAA's runway with headings that nobody contradicts.

    Where the FAA gives none the other source's count; where the two differ nobody can tell, and the
    heading is unknown.
    """
    if ours.heading_deg_true is None:
        return theirs
    if theirs.heading_deg_true is None:
        known = {end.ident.lstrip("0"): end.heading_deg_true for end in ends_of(ours)}
        ends = tuple(replace(end, heading_deg_true=known.get(end.ident.lstrip("0"))) for end in theirs.ends)
        return replace(theirs, ends=ends, heading_deg_true=known.get(theirs.idents.split("/")[0].lstrip("0")))
    off = abs((ours.heading_deg_true - theirs.heading_deg_true + 180.0) % 360.0 - 180.0)
    if off <= TURN_DEG:
        return theirs
    tally.add(
        "changed",
        f"conflict: runway headings differ by over {TURN_DEG:.0f} degrees: taken as unknown",
        [f"{name}: {ours.heading_deg_true:.0f}, FAA {theirs.heading_deg_true:.0f}"],
    )
    ends = tuple(replace(end, heading_deg_true=None) for end in theirs.ends)
    return replace(theirs, ends=ends, heading_deg_true=None)


def _new(site: Site, places: list[Airfield], fields: Mapping[str, Airfield], tally: Tally) -> Airfield | None:
    """Return a site that no airfield of the store is as an airfield of its own; ``None`` where it cannot be one."""
    if site.kind != "A" or site.open is False:
        tally.add("dropped", "site that is no airport, or not open", [site.arpt_id])
        return None
    if site.lat_deg is None or site.lon_deg is None:
        tally.add("dropped", "site without a position that no airfield of the store is", [site.arpt_id])
        return None
    beside = [
        field.id
        for field in places
        if abs(field.lat_deg - site.lat_deg) < 0.05 and _apart(site, field) <= WITHIN_NM
    ]
    if beside:
        tally.add(
            "noted", "conflict: an airfield of another identifier stands there: site left out",
            [f"{site.arpt_id} at {beside[0]}"],
        )  # fmt: skip
        return None
    id_ = next((code for code in site.codes if code not in fields), None)
    if id_ is None:
        tally.add("dropped", "site whose codes other airfields hold", [site.arpt_id])
        return None
    tally.add("noted", "site that the store had not: added", [id_])
    return Airfield(
        id=id_, name=site.name.title(), lat_deg=site.lat_deg, lon_deg=site.lon_deg, elevation_ft=site.elevation_ft,
        country="US", runways=site.runways, lights=site.lights, lights_detail=site.lights_detail, tower=site.tower,
        class_b=site.class_b, private=site.private, source=site.source,
    )  # fmt: skip


def _timed(
    field: Airfield, codes: tuple[str, ...], zones: Mapping[str, tuple[float, float, str]], tally: Tally
) -> Airfield:
    zone = time_zone_of(field, codes, zones)
    if zone is None and (field.lights == "until" or (field.tower is not None and field.tower.hours)):
        tally.add("noted", "hours given, local time not known: they cannot be used", [field.id])
    return replace(field, time_zone=zone)
