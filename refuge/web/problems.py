"""Every refusal as problem details (RFC 9457), naming the field at fault, in the words of the command line."""

import json
from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.responses import Response

from refuge.errors import InputError, MissingDataError, RefugeError, StoreError
from refuge.web.answers import NotKnownError
from refuge.web.service import BusyError

PROBLEM = "application/problem+json"
RETRY_AFTER_S = "5"

STATUS: dict[type[RefugeError], int] = {
    InputError: 422,
    NotKnownError: 404,
    BusyError: 503,
    MissingDataError: 503,
    StoreError: 503,
}


class Fault(BaseModel):
    """One field at fault."""

    field: str
    detail: str


class Problem(BaseModel):
    """Problem details, RFC 9457; `type` is about:blank: the status says what kind it is."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[Fault]


def problem(status: int, detail: str, errors: Sequence[tuple[str, str]] = ()) -> Response:
    """Return the response to a request that cannot be answered."""
    body: dict[str, Any] = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "errors": [{"field": field, "detail": text} for field, text in errors],
    }
    headers = {"cache-control": "no-store"}
    if status == HTTPStatus.SERVICE_UNAVAILABLE:
        headers["retry-after"] = RETRY_AFTER_S
    return Response(json.dumps(body, ensure_ascii=False), status, headers, media_type=PROBLEM)


def field_of(where: str | None) -> str | None:
    """Return the name in a query of what the command line calls ``--lowest-safe``."""
    return None if where is None else where.removeprefix("--").replace("-", "_")


def add_handlers(app: FastAPI) -> None:
    """Answer every error of `app` as problem details."""
    app.add_exception_handler(RefugeError, _refused)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _failed)


async def _refused(_request: Request, exc: Exception) -> Response:
    if not isinstance(exc, RefugeError):
        raise exc
    status = next((code for kind, code in STATUS.items() if isinstance(exc, kind)), 500)
    if isinstance(exc, StoreError):
        # Its words name paths and databases of this server: they are for its log.
        return problem(status, "the store cannot be read just now")
    where = field_of(exc.where)
    return problem(status, str(exc), [(where, exc.what)] if where else [])


async def _malformed(_request: Request, exc: Exception) -> Response:
    if not isinstance(exc, RequestValidationError):
        raise exc
    faults = [(str(fault["loc"][-1]), _said(fault)) for fault in exc.errors()]
    return problem(422, "; ".join(f"{field}: {text}" for field, text in faults), faults)


def _said(fault: dict[str, Any]) -> str:
    kind, context = fault["type"], fault.get("ctx", {})
    given = repr(fault.get("input"))[:80]
    if kind == "missing":
        return "is missing"
    if kind == "extra_forbidden":
        return "is no name that this address takes"
    if kind in _BOUNDS:
        limit, words = _BOUNDS[kind]
        return f"must be {words} {context[limit]:g}, not {given}"
    if kind in _KINDS:
        return f"must be {_KINDS[kind]}, not {given}"
    if kind == "string_too_long":
        return f"is longer than {context.get('max_length')} characters"
    return f"{given} cannot be used: {fault['msg'].removeprefix('Input ')}"


_BOUNDS = {
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
}
_KINDS = {
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "int_parsing": "a whole number",
    "bool_parsing": "true or false",
}
"""What the checking library calls faults, and how we do."""


async def _http(_request: Request, exc: Exception) -> Response:
    if not isinstance(exc, HTTPException):
        raise exc
    response = problem(exc.status_code, str(exc.detail))
    for name, value in (exc.headers or {}).items():
        response.headers[name] = value
    return response


async def _failed(_request: Request, _exc: Exception) -> Response:
    return problem(500, "an error of the server: it is in its log")
