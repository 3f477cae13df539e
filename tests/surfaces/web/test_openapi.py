"""The OpenAPI document: the one in the tree, valid, and kept by what is answered."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from refuge.cli import app
from refuge.web.app import openapi_text

FIND = "/v1/find?at=44.0,-38.0&aircraft=XA-GLASS&minimums=XS-SCHOOL"
ROUTE = "?places=XTES;XLUM&departs=2026-03-10T15:45Z&aircraft=XA-GLASS&minimums=XS-SCHOOL"
ROSTER = "flight,from,to,departs,aircraft,minimums\nA,XTES,XLUM,2026-03-10T15:45Z,XA-GLASS,XS-SCHOOL\nB,,,,,\n"
ANSWERS = [
    ("/v1/route", "/v1/route" + ROUTE, 200),
    ("/v1/route", "/v1/route" + ROUTE + "&format=geojson", 200),
    ("/v1/route", "/v1/route" + ROUTE + "&wind=x", 422),
    ("/v1/ways", "/v1/ways" + ROUTE, 200),
    ("/v1/ways", "/v1/ways" + ROUTE + "&format=geojson", 200),
    ("/v1/find", FIND, 200),
    ("/v1/find", FIND + "&format=geojson", 200),
    ("/v1/find", FIND + "&wind=x", 422),
    ("/v1/expect/{station}", "/v1/expect/XORR?from=2026-03-10T15:00Z&to=2026-03-10T16:00Z", 200),
    ("/v1/stations/{station}", "/v1/stations/XCOR", 200),
    ("/v1/stations/{station}", "/v1/stations/XASH?format=geojson", 200),
    ("/v1/stations/{station}", "/v1/stations/XNIL", 404),
    ("/v1/airfields", "/v1/airfields?near=XCOR&within_nm=100", 200),
    ("/v1/airfields", "/v1/airfields?near=XCOR&format=geojson", 200),
    ("/v1/airfields/{airfield}", "/v1/airfields/XCOR", 200),
    ("/v1/airfields/{airfield}", "/v1/airfields/XCOR?format=geojson", 200),
    ("/v1/aircraft", "/v1/aircraft", 200),
    ("/v1/minimums", "/v1/minimums", 200),
    ("/v1/status", "/v1/status", 200),
    ("/readyz", "/readyz", 200),
]


@pytest.fixture(scope="module")
def document(root: Path) -> dict[str, Any]:
    read: dict[str, Any] = json.loads((root / "deploy" / "openapi.json").read_text(encoding="utf-8"))
    return read


def test_the_file_in_the_tree_is_what_the_program_says(root: Path) -> None:
    """After a change: refuge serve --openapi > deploy/openapi.json, and look at what changed."""
    assert (root / "deploy" / "openapi.json").read_text(encoding="utf-8") == openapi_text()
    assert CliRunner().invoke(app, ["serve", "--openapi"]).stdout == openapi_text()


def test_it_is_served_too(client: httpx.Client, document: dict[str, Any]) -> None:
    assert client.get("/openapi.json").json() == document


def test_it_is_valid_3_1(document: dict[str, Any]) -> None:
    assert document["openapi"].startswith("3.1.")
    OpenAPIV31SpecValidator(document).validate()


def test_every_address_of_the_issue_is_there(document: dict[str, Any]) -> None:
    assert set(document["paths"]) == {path for path, _, _ in ANSWERS} | {"/livez", "/metrics", "/v1/brief"}


@pytest.mark.parametrize(("path", "asked", "status"), ANSWERS)
def test_answers_keep_to_it(
    client: httpx.Client, document: dict[str, Any], path: str, asked: str, status: int
) -> None:
    answer = client.get(asked)
    assert answer.status_code == status
    content = document["paths"][path]["get"]["responses"][str(status)]["content"]
    schema = content[answer.headers["content-type"]]["schema"] | {"components": document["components"]}
    Draft202012Validator(schema).validate(answer.json())


@pytest.mark.parametrize(
    ("sent", "media", "status"),
    [(ROSTER, "text/csv", 200), ("x", "text/csv", 422), ("{}", "application/json", 415)],
)
def test_a_brief_keeps_to_it(
    client: httpx.Client, document: dict[str, Any], sent: str, media: str, status: int
) -> None:
    answer = client.post("/v1/brief", content=sent, headers={"content-type": media})
    assert answer.status_code == status
    content = document["paths"]["/v1/brief"]["post"]["responses"][str(status)]["content"]
    schema = content[answer.headers["content-type"]]["schema"] | {"components": document["components"]}
    Draft202012Validator(schema).validate(answer.json())


@pytest.mark.parametrize("path", sorted({path for path, _, status in ANSWERS if path.startswith("/v1")}))
def test_what_is_polled_declares_its_etag_and_304(document: dict[str, Any], path: str) -> None:
    responses = document["paths"][path]["get"]["responses"]
    assert "ETag" in responses["200"]["headers"]
    assert "content" not in responses["304"]


def test_each_parameter_is_explained(document: dict[str, Any]) -> None:
    for path, methods in document["paths"].items():
        for method in methods.values():
            for parameter in method.get("parameters", ()):
                assert parameter.get("description"), (path, parameter["name"])


@pytest.mark.parametrize(
    ("command", "path", "elsewhere"),
    [("find", "/v1/find", {"explain"}), ("route", "/v1/route", {"ways", "over", "picture", "reach-at"}),
     ("route", "/v1/ways", {"ways", "picture", "reach-at"})],
)  # fmt: skip
def test_it_names_every_option_of_the_question(
    document: dict[str, Any], typed: Callable[..., bytes], command: str, path: str, elsewhere: set[str]
) -> None:
    """What the command takes of a question can be asked over HTTP, by the same name."""
    helped = typed(command, "--help").decode()
    names = {parameter["name"] for parameter in document["paths"][path]["get"]["parameters"]}
    only_typed = {"bulletins", "received", "json", "geojson", "store", "help"} | elsewhere
    options = {word.strip(",:").removeprefix("--") for word in helped.split() if word.startswith("--")}
    assert {option.replace("-", "_") for option in options - only_typed} <= names
