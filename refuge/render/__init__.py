"""Answers as text, JSON and pictures."""
