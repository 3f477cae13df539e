"""The OpenAPI document: what is the same at every address, and the whole as text."""

import json
from typing import Any

from pydantic import BaseModel

from refuge.web.problems import PROBLEM, Problem
from refuge.web.ready import GEOJSON

TITLE = "refuge"
VERSION = "1"
DESCRIPTION = (
    "Where to go in cloud when the electrical supply fails: airfields in reach while the instruments last, and"
    " which of them will be visual. Planning aid; the flight manual, current regulations and the pilot in command"
    " come first. Bodies carry instants, not ages. An ETag stays while question, evidence and verdicts stay: poll"
    " with If-None-Match."
)

_ETAG = {
    "ETag": {"description": "Weak: names what the answer says.", "required": True, "schema": {"type": "string"}},
    "Cache-Control": {"required": True, "schema": {"type": "string"}},
    "Vary": {"required": True, "schema": {"type": "string"}},
}
_REFUSALS = {
    408: "The body did not come in time.",
    413: "The body is too long.",
    415: "The body is none of the media types that are taken.",
    404: "What the address names is not known.",
    405: "Not a method of this address.",
    414: "The query or the path is too long.",
    422: "Something in the query cannot be used; `errors` names the field.",
    503: "No data, not read yet, or too much at once.",
}
REF = "#/components/schemas/"


Responses = dict[int | str, dict[str, Any]]


def answers(geojson: type[BaseModel] | None = None, *, refusals: tuple[int, ...] = (404, 422, 503)) -> Responses:
    """Return the responses of an address whose answers are kept ready."""
    good: dict[str, Any] = {"headers": _ETAG, "description": "The answer."}
    if geojson is not None:
        good["content"] = {GEOJSON: {"schema": {"$ref": REF + geojson.__name__}}}
    unchanged = {"headers": _ETAG, "description": "What If-None-Match names still holds."}
    return {200: good, 304: unchanged} | refused(414, *refusals)


def briefed(schema: dict[str, Any]) -> dict[str, Any]:
    """Return the body that an address takes: a CSV text, required."""
    return {"requestBody": {"required": True, "content": {"text/csv": {"schema": schema}}}}


def refused(*statuses: int) -> Responses:
    """Return the responses that are problem details."""
    content = {PROBLEM: {"schema": {"$ref": REF + Problem.__name__}}}
    return {status: {"description": _REFUSALS[status], "content": content} for status in statuses}


def complete(document: dict[str, Any], models: tuple[type[BaseModel], ...]) -> dict[str, Any]:
    """Return the document with the schemas that only its references name."""
    schemas = document["components"]["schemas"]
    for model in models:
        schema = model.model_json_schema(ref_template=REF + "{model}", mode="serialization")
        schemas |= schema.pop("$defs", {})
        schemas[model.__name__] = schema
    return document


def as_text(document: dict[str, Any]) -> str:
    """Return a document as the text of its file."""
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"
