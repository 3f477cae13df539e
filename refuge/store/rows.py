"""Decoded values as rows of their tables."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Table

from refuge.store.identity import correction_rank
from refuge.store.records import record_text
from refuge.store.schema import forecasts, guidance, levels, observations
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.guidance_head import GuidanceHead
from refuge.weather.reports import Forecast, Levels, Observation


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A text that could not be read: why, and of which station as far as that could be told."""

    error: str
    station: str | None = None


Decoded = Observation | Forecast | Levels | GuidanceHead | Refusal

TABLE_OF: dict[Kind, Table] = {
    Kind.METAR: observations,
    Kind.TAF: forecasts,
    Kind.WINDS: levels,
    Kind.GUIDANCE: guidance,
}
"""Where the decoded values of each kind of bulletin are kept."""


def decoded_row(
    value: Observation | Forecast | Levels | GuidanceHead, *, bulletin_id: int, received_at: datetime, decoder: str
) -> dict[str, Any]:
    """Return the row that keeps a decoded value: what is searched by, and the whole as text."""
    return {
        "bulletin_id": bulletin_id,
        "received_at": received_at,
        "decoder": decoder,
        "record": record_text(value),
        **_searched_by(value),
    }


def _searched_by(value: Observation | Forecast | Levels | GuidanceHead) -> dict[str, Any]:
    match value:
        case Observation():
            return {
                "station": value.station,
                "observed_at": value.observed_at,
                "correction": correction_rank(value.raw, corrected=value.corrected),
                "nil": value.nil,
            }
        case Forecast():
            return {
                "station": value.station,
                "issued_at": value.issued_at,
                "valid_from": value.valid_from,
                "valid_to": value.valid_to,
                "correction": correction_rank(value.raw, corrected=value.corrected),
                "amended": value.amended,
                "cancelled": value.cancelled,
                "nil": value.nil,
            }
        case Levels():
            return {
                "product": value.product,
                "based_on": value.based_on,
                "valid_at": value.valid_at,
                "use_from": value.use_from,
                "use_to": value.use_to,
            }
        case GuidanceHead():
            return {
                "station": value.station,
                "product": value.product,
                "based_on": value.based_on,
                "valid_from": value.times[0],
                "valid_to": value.times[-1],
            }


def refused_row(
    refusal: Refusal, bulletin: Bulletin, *, digest: str, bulletin_id: int | None, decoder: str
) -> dict[str, Any]:
    """Return the row that keeps a text that could not be read."""
    return {
        "bulletin_id": bulletin_id,
        "digest": digest,
        "kind": bulletin.kind,
        "station": refusal.station,
        "raw": bulletin.raw,
        "error": refusal.error,
        "source": bulletin.source,
        "received_at": bulletin.received_at,
        "decoder": decoder,
    }
