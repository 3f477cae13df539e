"""The door that opens by itself: feeds collected by the clock, by one leader among several workers.

`plan` says when, `run` does one feed once and keeps the log of it, `lead` waits for the lock, holds it,
and stops. What is done is what ``refuge collect`` does.
"""
