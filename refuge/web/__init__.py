"""The second door: the answers over HTTP, from a world in memory."""
