"""What is known, kept: raw bulletins, what they were decoded to, stations and airfields.

`engine` opens a store, `write` and `places` fill it, `reads`, `hearing` and `places` answer as of
an instant. Rows become the core's types in plain functions; nobody outside sees a row.
"""
