"""Which step of the hierarchy of evidence an answer stands on, in words (method.md 4).

From the best: own report and own TAF; own report and own guidance; own guidance; the same borrowed; nothing.
"""

from refuge.flight.shortlist import Shortlist


def evidence_step(shortlist: Shortlist, i: int) -> str:
    """Return what one airfield's weather rests on: ``own report and borrowed TAF``, ``nothing``."""
    basis, inquiry = shortlist.basis, shortlist.basis.weighed.inquiry
    own, guided = int(basis.fields.station[i]), basis.network.arrays.guidance
    reports = inquiry.reports.station[inquiry.reports.field == i]
    told = inquiry.forecasts.station[inquiry.forecasts.field == i]
    parts = [
        f"{'own' if (stations == own).any() else 'borrowed'} {name}"
        for name, stations in (
            ("report", reports),
            ("TAF", told[~guided[told]]),
            ("guidance", told[guided[told]]),
        )
        if stations.size
    ]
    if not parts:
        return "nothing"
    if len(parts) == 1:
        return f"{parts[0]} alone"
    return f"{', '.join(parts[:-1])} and {parts[-1]}"
