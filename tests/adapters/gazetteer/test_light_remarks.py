"""The FAA's lighting remarks and tower hours. Texts marked NASR are of the FAA's tables of 2025-09-04."""

from datetime import time

import pytest

from refuge.airfield import EVERY_DAY, Hours
from refuge.gazetteer.light_remarks import lights_of
from refuge.gazetteer.tower_hours import tower_hours

UNTIL_2300 = (
    "DUSK - 2300. MIRL RWY 05/23 PRESET MED INTST DUSK-2300; TO INCR INTST - CTAF. AFT 2300 ACTVT REIL RWY 23;"
    " PAPI RWYS 05 & 23; MIRL RWY 05/23 - CTAF."
)
"""NASR, BFZ."""


@pytest.mark.parametrize(
    ("schedule", "remarks", "kind", "until", "after"),
    [
        ("SS-SR", [], "dusk_to_dawn", None, None),
        ("SEE RMK", [UNTIL_2300], "until", time(23), "radio"),
        ("SEE RMK", ["ACTVT REIL RWY 36; MIRL RWY 18/36 - CTAF."], "radio", None, None),  # NASR, ALX
        (
            "SEE RMK",
            ["ACTVT MALSR RWY 05; REIL RWY 23; PAPI RWY 05 & 23, HIRL RWY 05/23 -  CTAF."],
            "radio",
            None,
            None,
        ),
        ("SS-SR", ["ACTVT MIRL RWY 05/23 - CTAF."], "radio", None, None),  # a remark that says 'activate' wins
        ("SS-SR", ["ACTVT PAPI RWY 05 - CTAF."], "dusk_to_dawn", None, None),  # slope lights are no edge lights
        ("SS-SR", ["ACTVT MIRL RWY 05/23 - 122.8."], "radio", None, None),
        ("SEE RMK", ["DUSK-2200."], "until", time(22), "none"),
        ("SEE RMK", ["SS-2400."], "until", time(0), "none"),
        ("SEE RMK", ["MIRL RWY 05/23 DUSK-DAWN."], "dusk_to_dawn", None, None),
        ("SEE RMK", ["MIRL RWY 18/36 OPR CONSLY."], "dusk_to_dawn", None, None),
        # Not understood whole, or no sense in it: unknown.
        ("SEE RMK", [], "unknown", None, None),
        ("", [], "unknown", None, None),
        ("SEE RMK", ["DUSK-2300. AFT 2200 ACTVT MIRL RWY 05/23 - CTAF."], "unknown", None, None),
        ("SEE RMK", ["AFT 2300 ACTVT MIRL RWY 05/23 - CTAF."], "unknown", None, None),
        ("SEE RMK", ["MIRL RWY 05/23 ON TIL MIDNIGHT."], "unknown", None, None),
        ("SS-SR", ["MIRL RWY 05/23 OTS INDEFLY."], "unknown", None, None),
        ("SS-SR", ["LGTS BY PRIOR REQUEST."], "unknown", None, None),
        ("SEE RMK", ["DUSK-2560."], "unknown", None, None),
        ("SEE RMK", ["ACTVT MIRL RWY 05/23 - CTAF; CALL FIRST."], "unknown", None, None),
        ("SEE RMK", [UNTIL_2300.replace("PRESET", "PRSET")], "unknown", None, None),
        ("SEE RMK", [UNTIL_2300[:-3]], "unknown", None, None),
    ],
)
def test_what_burns(schedule: str, remarks: list[str], kind: str, until: time | None, after: str | None) -> None:
    found, detail = lights_of(schedule, remarks, [], source="made up")
    assert (found, detail.until_local) == (kind, until)
    assert after is None or detail.after == after


def test_a_token_that_is_lost_never_says_more() -> None:
    words = UNTIL_2300.split()
    for i in range(len(words)):
        cut = " ".join(words[:i] + words[i + 1 :])
        kind, detail = lights_of("SEE RMK", [cut], [], source="made up")
        assert kind in {"unknown", "radio", "until"}
        assert kind != "until" or detail.until_local == time(23)


def test_other_remarks_about_night_cast_doubt() -> None:
    kind, detail = lights_of("SS-SR", [], ["ARPT CLSD NIGHT."], source="made up")
    assert kind == "unknown"
    assert "ARPT CLSD NIGHT." in detail.text
    assert lights_of("SS-SR", [], ["RWY STATUS LGTS IN OPN."], source="")[0] == "dusk_to_dawn"  # NASR, LAX


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("24", (Hours(days=EVERY_DAY, opens_min=0, closes_min=1440),)),  # NASR, ABE
        ("0800-1600 MON-FRI.", (Hours(days=(0, 1, 2, 3, 4), opens_min=480, closes_min=960),)),  # NASR, 06FA
        ("0600-2200", (Hours(days=EVERY_DAY, opens_min=360, closes_min=1320),)),
        ("0600-0030", (Hours(days=EVERY_DAY, opens_min=360, closes_min=30),)),
        (
            "0700-2100 MON-FRI; 0800-1700 SAT & SUN",
            (
                Hours(days=(0, 1, 2, 3, 4), opens_min=420, closes_min=1260),
                Hours(days=(5, 6), opens_min=480, closes_min=1020),
            ),
        ),
        ("0700-2200 SAT-MON", (Hours(days=(0, 5, 6), opens_min=420, closes_min=1320),)),
        ("BY NOTAM", None),  # NASR, 13NC
        ("1130-0545Z++", None),  # as in NASR, HEY
        ("0800-1600 EXC HOL", None),
        ("0860-1600", None),
        ("2400-0600", None),
        ("0600-2500", None),
        ("", None),
    ],
)
def test_tower_hours(text: str, expected: tuple[Hours, ...] | None) -> None:
    assert tower_hours(text) == expected
