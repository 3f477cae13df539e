"""Lapse rates: how temperature falls with height."""

LAPSE_C_PER_FT = 1.98 / 1000.0
"""ICAO standard atmosphere, ICAO Doc 7488."""
DRY_LAPSE_C_PER_FT = 9.8 / 3280.84
"""Dry adiabatic lapse, 9.8 C a kilometre (WMO-No. 182, from memory): air aloft is no colder than
this below a surface temperature, barring a shallow heated layer."""
