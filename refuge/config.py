"""Settings, read once: where this user's files lie."""

from pathlib import Path

from platformdirs import user_config_path


def user_folder() -> Path:
    """Return the folder in which this user keeps aircraft and minimums files."""
    return user_config_path("refuge")
