"""`refuge serve`: the answers over HTTP."""

import ipaddress
from datetime import datetime

import click

from refuge.cli.options import store_option
from refuge.options import read_as
from refuge.zulu import parse_instant


@click.command(epilog="Example: refuge serve --store refuge-demo.sqlite --port 8000")
@store_option
@click.option("--host", default="127.0.0.1", show_default=True, metavar="ADDRESS", help="Listen at this address.")
@click.option("--port", default=8000, show_default=True, type=click.IntRange(0, 65535), help="And at this port.")
@click.option("--now", metavar="TIME", help="Serve as of this time, the clock standing still: a replay.")
@click.option("--openapi", is_flag=True, help="Print the OpenAPI document, and serve nothing.")
def serve(*, store: str | None, host: str, port: int, now: str | None, openapi: bool) -> None:
    """Answer over HTTP what find, expect and status answer here, in the same bytes.

    Only this machine is served unless --host says otherwise: there is no encryption and no login.
    """
    if openapi:
        from refuge.web.app import openapi_text

        click.echo(openapi_text(), nl=False)
        return
    at = None if now is None else read_as("--now", parse_instant, now)
    if not _is_loopback(host):
        click.echo(f"note: {host} can be reached from other machines: no encryption, no login", err=True)
    _run(store, host, port, at)


def _is_loopback(host: str) -> bool:
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _run(store: str | None, host: str, port: int, at: datetime | None) -> None:
    import uvicorn

    from refuge.store.opening import existing_store
    from refuge.web.app import create_app

    with existing_store(store) as engine:
        app, _ = create_app(engine, store, at=at)
        uvicorn.run(
            app, host=host, port=port, loop="auto", http="httptools", ws="none", access_log=False,
            server_header=False, limit_concurrency=1000, timeout_graceful_shutdown=10,
        )  # fmt: skip
