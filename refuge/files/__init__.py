"""Files that people write: aircraft and minimums, checked and turned into the core's types."""
