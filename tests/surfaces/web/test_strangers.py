"""Requests made up from the OpenAPI document, good and bad: none breaks the server or the document's word.

One check is left out: that whatever fits the document is accepted. A document cannot say that an
identifier must be known, or that a window must not end before it starts.
"""

import subprocess
import sys
from pathlib import Path

import httpx

PROGRAM = "from schemathesis.cli import schemathesis; schemathesis()"


def test_nothing_is_found(client: httpx.Client, root: Path, tmp_path: Path) -> None:
    # A query too long to be read is refused as such, whatever else is wrong with it.
    (tmp_path / "schemathesis.toml").write_text(
        "[checks.negative_data_rejection]\nexpected-statuses = [404, 405, 408, 413, 414, 415, 422, 503]\n",
        encoding="utf-8",
    )
    command = [
        sys.executable, "-W", "ignore", "-c", PROGRAM, "run", str(root / "deploy" / "openapi.json"),
        "--url", str(client.base_url).rstrip("/"), "--exclude-checks", "positive_data_acceptance",
        "--max-examples", "20", "--generation-deterministic", "--no-color", "--request-timeout", "60",
    ]  # fmt: skip
    result = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False, timeout=900)
    assert result.returncode == 0, (result.stdout + result.stderr)[-8000:]
    assert "Operations:       14 selected / 14 total" in result.stdout
    assert client.get("/livez").status_code == 200
