"""``python -m refuge``."""

from refuge.cli import main

main()
