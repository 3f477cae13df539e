"""Stores to measure on, made as for the tests of the adapters."""

from tests.adapters.conftest import empty_database, empty_store, make_store, postgis_server

__all__ = ["empty_database", "empty_store", "make_store", "postgis_server"]
