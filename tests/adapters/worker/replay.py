"""A weather service on this machine, in the shapes of the real one: what it has can be changed, and fail."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from refuge.feeds.awc import METARS, STATIONS, TAFS, WINDS

NOTHING = 204


@dataclass(slots=True)
class Service:
    """What the service has now.

    ``metars_csv`` stands for the whole table of reports; ``failing`` are paths that answer 404; ``asked``
    are the paths asked for.
    """

    metars: Iterable[str] = ()
    metars_csv: str | None = None
    tafs: Iterable[str] = ()
    winds: str = ""
    stations: list[dict[str, object]] = field(default_factory=list)
    failing: set[str] = field(default_factory=set)
    asked: list[str] = field(default_factory=list)

    def serve(self, server: HTTPServer) -> str:
        """Answer on `server`; return its address."""
        for path in (METARS, TAFS, WINDS, STATIONS):
            server.expect_request(path).respond_with_handler(self._answer)
        return str(server.url_for("")).rstrip("/")

    def _answer(self, request: Request) -> Response:
        self.asked.append(request.full_path.rstrip("?"))
        if request.path in self.failing:
            return Response(status=404)
        body = self._body(request.path).encode()
        if not body:
            return Response(status=NOTHING)
        tag = f'"{hashlib.sha256(body).hexdigest()[:16]}"'
        if request.headers.get("If-None-Match") == tag:
            return Response(status=304, headers={"ETag": tag})
        return Response(body, headers={"ETag": tag})

    def _body(self, path: str) -> str:
        if path == METARS:
            if self.metars_csv is not None:
                return self.metars_csv
            rows = "".join(f"{raw},{raw.split()[1]},\n" for raw in self.metars)
            return f"raw_text,station_id,observation_time\n{rows}"
        if path == TAFS:
            rows = "".join(f"<TAF><raw_text>{escape(raw)}</raw_text></TAF>" for raw in self.tafs)
            return f'<?xml version="1.0"?><response><data>{rows}</data></response>'
        return json.dumps(self.stations) if path == STATIONS else self.winds
