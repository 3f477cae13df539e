"""In front of the router: what is kept ready is answered here, before anything else is done.

Raw ASGI, since every layer costs: a polled answer needs a look into a dictionary and two messages.
"""

import time

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from refuge.web.meters import Meters
from refuge.web.problems import problem
from refuge.web.ready import conditions_of, send_ready
from refuge.web.service import Service

MOST_QUERY_BYTES = 2048
MOST_PATH_BYTES = 256


class Front:
    """Answers polls of what is kept ready; hands everything else on."""

    def __init__(self, app: ASGIApp, service: Service, meters: Meters) -> None:
        self.app, self.service, self.meters = app, service, meters

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or hand it on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        state = self.service.state
        if scope["method"] == "GET" and state is not None:
            asked = conditions_of(scope["headers"])
            kept = state.answers.get((scope["raw_path"], scope["query_string"], asked.geojson))
            now_s = time.monotonic()
            if kept is not None and now_s <= state.good_until_s:
                kept.asked_s = now_s
                if await send_ready(send, kept.ready, asked) == 304:
                    self.meters.kept_304.inc()
                else:
                    self.meters.kept_200.inc()
                return
        await self._handed_on(scope, receive, send)

    async def _handed_on(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the router answer, count it, and keep the body of an answer to HEAD."""
        status, start_s = 500, time.monotonic()
        only_head = scope["method"] == "HEAD"

        async def counted(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            elif only_head:
                message = {**message, "body": b""}
            await send(message)

        if only_head:
            scope = {**scope, "method": "GET"}
        try:
            if len(scope["query_string"]) > MOST_QUERY_BYTES or len(scope["raw_path"]) > MOST_PATH_BYTES:
                detail = f"a query has {MOST_QUERY_BYTES:,} bytes at most, a path {MOST_PATH_BYTES}"
                await problem(414, detail)(scope, receive, counted)
            else:
                await self.app(scope, receive, counted)
        finally:
            route = getattr(scope.get("route"), "path", "none")
            self.meters.requests.labels(route=route, status=str(status)).inc()
            self.meters.seconds.observe(time.monotonic() - start_s)
