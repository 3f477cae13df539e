"""Surfaces: hard only what is surely paved, unknown what is not understood."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.gazetteer.surfaces import HARD, SOFT, WATER, surface_of

# Spellings as they stand in OurAirports' table of runways; what they mean is plain English, or
# FAA NASR's APT_RWY layout (SURFACE_TYPE_CODE).
SPELLINGS = [
    ("ASP", "hard"),
    ("ASPH-G", "hard"),
    ("ASPH/ CONC", "hard"),
    ("CONC-GRVD", "hard"),
    ("concrete/grooved", "hard"),
    ("PEM", "hard"),
    ("Tarmac", "hard"),
    ("C0N", "hard"),
    ("Hard Surfaced", "hard"),
    ("TURF", "soft"),
    ("TURF-G", "soft"),
    ("TURF-DIRT-F", "soft"),
    ("Grassed red silty clay", "soft"),
    ("Piçarra", "soft"),
    ("unpaved", "soft"),
    ("Hard clay", "soft"),
    ("Graded Hardcore", "soft"),
    ("PSP", "soft"),
    ("GRASS OR EARTH NOT GRADED OR ROLLED", "soft"),
    ("WATER-E", "water"),
    ("Summer water.", "water"),
    ("", "unknown"),
    ("UNK", "unknown"),
    ("G", "unknown"),
    ("X", "unknown"),
    ("ICE", "unknown"),
    ("TURF/SNOW", "unknown"),
    ("ASPH-L", "unknown"),
    ("Asphalt partial", "unknown"),
    ("OLD ASP", "unknown"),
    ("Demo'd asphalt", "unknown"),
    ("CLOSED", "unknown"),
    ("Roof/Top", "unknown"),
    ("Natural terrain", "unknown"),
    ("Gravel/grass, First 410m of RWY 23 paved", "unknown"),
]


@pytest.mark.parametrize(("text", "kind"), SPELLINGS)
def test_spelling(text: str, kind: str) -> None:
    assert surface_of(text) == kind


# FAA: a runway of two surfaces is written with both; it is as good as its worse part.
@pytest.mark.parametrize("text", ["ASPH-TURF", "CONC-GRVL-G", "Asphalt/Gravel", "PAVED/GRASS", "ASP/WATER"])
def test_partly_paved_is_never_hard(text: str) -> None:
    assert surface_of(text) != "hard"


@given(st.sampled_from(HARD.split()), st.sampled_from([*SOFT.split(), *WATER.split()]), st.sampled_from(" /-,&"))
def test_one_soft_word_is_enough(hard: str, soft: str, between: str) -> None:
    assert surface_of(f"{hard}{between}{soft}") != "hard"
    assert surface_of(f"{soft}{between}{hard}") != "hard"


@given(st.sampled_from(HARD.split()), st.text(alphabet="qwxyzjv", min_size=2, max_size=8))
def test_one_word_not_understood_makes_it_unknown(hard: str, strange: str) -> None:
    assert surface_of(f"{hard} {strange}") == "unknown"


@given(st.text(max_size=60))
def test_any_text_has_an_answer(text: str) -> None:
    assert surface_of(text) in {"hard", "soft", "water", "unknown"}
