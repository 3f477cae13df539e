"""Airfields and stations, from the files of those who list them to this project's values."""
