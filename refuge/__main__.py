"""``python -m refuge``, and the command ``refuge``: nothing but an interruption comes before the command line."""

import sys


def main() -> None:
    """Run the command line; an interruption while it is being loaded ends as one later does."""
    try:
        from refuge.cli import main as run  # noqa: PLC0415 - in here to be interrupted in here

        run()
    except KeyboardInterrupt:
        sys.exit(130)  # as refuge.cli.ending says, which may not be loaded yet


if __name__ == "__main__":
    main()
