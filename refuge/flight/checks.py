"""The checks of reach and icing, each an array of codes over airfields (method.md 3 and 5)."""

import numpy as np

from refuge.flight.atmosphere import DRY_LAPSE_C_PER_FT
from refuge.flight.state_arrays import Bools, Floats
from refuge.flight.verdict import MEETS, MISSES, UNKNOWN, Codes

PRESSURE_ALLOWANCE_FT = 180.0
"""Twice 3 hPa at 30 ft a hectopascal (method.md 5): how far the altimeter may be off unset."""
LEAST_CLEARANCE_FT = 1000.0
"""What a safe height keeps from the ground, 2,000 ft in mountains (14 CFR 91.177)."""
ICING_WARMEST_C, ICING_COLDEST_C = 2.0, -20.0
"""Cloud between these may ice (reference.md 8.1, S90)."""


def reach_codes(break_out_min: Floats, budget_min: float | None, *, wind_known: Bools, dependable: bool) -> Codes:
    """Return whether break-out comes within the budget; unknown without budget, wind or dependable endurance.

    A place out of reach even on an endurance that is not dependable is a miss all the same.
    """
    if budget_min is None:
        return np.full(break_out_min.shape, UNKNOWN, dtype=np.int8)
    within = break_out_min <= budget_min
    sure = wind_known & dependable
    return np.select([~wind_known, ~within, sure], [UNKNOWN, MISSES, MEETS], UNKNOWN).astype(np.int8)


def icing_codes(
    *,
    base_ft_amsl: Floats,
    ground_ft_amsl: Floats,
    ground_known: Bools,
    cruise_ft: float,
    cruise_c: float | Floats | None,
    coldest_surface_c: Floats,
    warmest_surface_c: Floats,
    surface_known: Bools,
    freezing: Bools,
    approved: bool,
) -> Codes:
    """Return whether the way down through cloud is free of icing.

    Cloud is taken from the lowest base (inf: none) up to the cruising level. Its temperature runs
    linearly between surface and cruise where both are known; with the cruise alone only the level
    itself is known, and may miss; with the surface alone, the dry adiabat tells the coldest it can be.
    Freezing precipitation or ice pellets in the window miss, approved or not.
    """
    depth = cruise_ft - np.minimum(base_ft_amsl, cruise_ft)
    rise = np.maximum(cruise_ft - ground_ft_amsl, 1.0)
    if cruise_c is None:
        lowest_c = coldest_surface_c - DRY_LAPSE_C_PER_FT * rise
        in_cloud = np.where(surface_known & ground_known & (lowest_c > ICING_WARMEST_C), MEETS, UNKNOWN)
    else:
        # Down to the ground where its height is not known: all that lies between may be in cloud.
        share = np.where(ground_known, depth / rise, 1.0)
        at_base = [cruise_c + (c - cruise_c) * share for c in (coldest_surface_c, warmest_surface_c)]
        warmest, coldest = np.maximum.reduce([*at_base, np.full(share.shape, cruise_c)]), np.minimum(*at_base)
        ices = (np.minimum(coldest, cruise_c) <= ICING_WARMEST_C) & (warmest >= ICING_COLDEST_C)
        level_ices = (np.asarray(cruise_c) >= ICING_COLDEST_C) & (np.asarray(cruise_c) <= ICING_WARMEST_C)
        in_cloud = np.where(surface_known, np.where(ices, MISSES, MEETS), np.where(level_ices, MISSES, UNKNOWN))
    if approved:
        in_cloud = np.full(base_ft_amsl.shape, MEETS)
    cloud = base_ft_amsl < cruise_ft
    return np.where(freezing, MISSES, np.where(cloud, in_cloud, MEETS)).astype(np.int8)
