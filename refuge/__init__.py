"""Where to go in cloud when the electrical supply fails."""

__version__ = "0.1.0"
