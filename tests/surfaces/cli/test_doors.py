"""The commands as a whole: what is asked back, and completion by Tab."""

import os
import subprocess
import sys

import pytest
from click.testing import CliRunner

from refuge.cli import COMMANDS, app


@pytest.mark.parametrize(
    ("word", "says"),
    [("fnd", "did you mean find?"), ("airfeld", "did you mean airfield?"), ("xyz", "No such command")],
)
def test_a_mistyped_command_is_asked_back(word: str, says: str) -> None:
    done = CliRunner().invoke(app, [word])
    assert done.exit_code == 2
    assert says in done.output


def test_completion_knows_the_commands_and_their_options() -> None:
    """What the shell asks after `eval "$(_REFUGE_COMPLETE=bash_source refuge)"` (click, Shell Completion)."""

    def completed(words: str, at: int) -> set[str]:
        program = "import sys; sys.argv[0] = 'refuge'; from refuge.cli import main; main()"
        asked = {"COMP_WORDS": words, "COMP_CWORD": str(at), "_REFUGE_COMPLETE": "bash_complete"}
        done = subprocess.run(
            [sys.executable, "-c", program], env=os.environ | asked, capture_output=True, text=True,
            check=False,
        )  # fmt: skip
        return {line.partition(",")[2] for line in done.stdout.splitlines()}

    assert completed("refuge ", 1) == set(COMMANDS)
    assert completed("refuge find --al", 2) == {"--altitude"}
