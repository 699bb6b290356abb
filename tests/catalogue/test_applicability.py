"""Which checkpoints a boat has, and which of them a viewing can look at."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.boats import vocabulary
from apps.catalogue.applicability import applies, checklist, prevented
from apps.catalogue.reading import read_catalogue
from apps.catalogue.snapshot import Catalogue
from apps.catalogue.vocabulary import CONDITIONS, OBSTACLES, PARTICULARS
from tests.catalogue.real import REAL


@pytest.fixture
def small(files) -> Catalogue:
    return read_catalogue(files.folder)


def test_it_works(small):
    found = checklist(
        small,
        particulars={"keel": "bolted_fin", "keel_ballast": "lead"},
        conditions={"ashore", "covered"},
    )
    assert [check.checkpoint.code for check in found.possible] == ["joint"]
    assert [caution.title for caution in found.possible[0].cautions] == ["Stands"]
    assert [(c.checkpoint.code, c.reasons) for c in found.not_possible] == [
        ("mainsail", ("covered",))
    ]


def test_what_is_not_known_rules_nothing_out(small):
    for particulars in ({}, {"keel": None, "keel_ballast": ""}):
        found = checklist(small, particulars=particulars, conditions=())
        assert [check.checkpoint.code for check in found.possible] == ["joint", "iron", "mainsail"]
        assert found.not_possible == ()


def test_all_named_particulars_must_hold(small):
    joint = replace(
        small.checkpoints["joint"], applies={"keel": ("twin",), "keel_ballast": ("iron",)}
    )
    assert applies(joint, {"keel": "twin", "keel_ballast": "iron"})
    assert applies(joint, {"keel": "twin"})
    assert not applies(joint, {"keel": "twin", "keel_ballast": "lead"})
    assert not applies(joint, {"keel": "full", "keel_ballast": "iron"})


def test_a_mast_elsewhere_is_not_stepped(small):
    mainsail = small.checkpoints["mainsail"]
    assert prevented(mainsail, {"mast_elsewhere"}) == ("mast_down",)
    assert prevented(mainsail, {"mast_down", "covered"}) == ("covered", "mast_down")
    assert prevented(mainsail, {"afloat"}) == ()


def test_a_word_that_is_no_condition_is_refused(small):
    # What only turns up on the spot is no condition of a viewing either.
    for word in ("fog", *OBSTACLES):
        with pytest.raises(ValueError, match=word):
            checklist(small, particulars={}, conditions={"afloat", word})


particulars = st.fixed_dictionaries(
    {name: st.sampled_from(values) for name, values in PARTICULARS.items()}
)
conditions = st.sets(st.sampled_from(sorted(CONDITIONS)))


@given(particulars, st.sets(st.sampled_from(sorted(PARTICULARS))))
def test_knowing_less_never_takes_a_checkpoint_away(known, pruned):
    less = {name: None if name in pruned else value for name, value in known.items()}
    for checkpoint in REAL.checkpoints.values():
        assert applies(checkpoint, less) or not applies(checkpoint, known)


@given(particulars, conditions)
def test_every_checkpoint_that_applies_is_possible_or_has_a_reason(known, hold):
    found = checklist(REAL, particulars=known, conditions=hold)
    codes = [check.checkpoint.code for check in (*found.possible, *found.not_possible)]
    walk = [code for code, each in REAL.checkpoints.items() if applies(each, known)]
    assert sorted(codes) == sorted(walk)
    possible = [check.checkpoint.code for check in found.possible]
    assert possible == [code for code in walk if code in possible], "in walking order"
    for check in found.possible:
        assert set(check.hampered) <= set(check.checkpoint.hampered_by)
        assert not set(check.hampered) & set(check.checkpoint.prevented_by)
    for check in found.not_possible:
        assert check.reasons
        assert set(check.reasons) <= set(check.checkpoint.prevented_by)


@given(particulars, conditions, conditions)
def test_a_further_condition_never_makes_a_check_possible(known, hold, more):
    before = checklist(REAL, particulars=known, conditions=hold)
    after = checklist(REAL, particulars=known, conditions=hold | more)
    assert {c.checkpoint.code for c in after.possible} <= {
        c.checkpoint.code for c in before.possible
    }


def test_afloat_nothing_under_water_can_be_graded():
    found = checklist(REAL, particulars={}, conditions={"afloat"})
    possible = {check.checkpoint.area for check in found.possible}
    assert "underbody" not in possible
    assert {"deck", "engine", "papers"} <= possible


@pytest.mark.parametrize(
    ("code", "tight", "walk_under"),
    [
        ("stanchions", "prevented", "hampered"),
        ("topside-finish", "prevented", "hampered"),
        ("deck-tapping", "prevented", "free"),
        ("ports-and-leaks", "hampered", "hampered"),
        ("bilge-marks", "free", "free"),
    ],
)
def test_a_tight_cover_and_one_to_walk_under(code, tight, walk_under):
    """Common practice, no source: under a tent one walks the deck; what it hangs on is hidden."""

    def answer(condition):
        found = checklist(REAL, particulars={}, conditions={condition})
        if code in {check.checkpoint.code for check in found.not_possible}:
            return "prevented"
        (check,) = (one for one in found.possible if one.checkpoint.code == code)
        return "hampered" if check.hampered == (condition,) else "free"

    assert (answer("covered"), answer("walk_under_cover")) == (tight, walk_under)


def test_what_is_asked_by_telephone_is_never_hampered():
    found = checklist(REAL, particulars={}, conditions=CONDITIONS.keys())
    asked = [check for check in found.possible if check.checkpoint.place == "ask"]
    assert len(asked) > 5
    assert not any(check.hampered for check in asked)


@pytest.mark.parametrize(
    ("has", "gone", "left"),
    [
        ({"windlass": "none"}, {"windlass"}, {"anchor-and-chain"}),
        ({"holding_tank": "none"}, {"holding-tank"}, {"holding-tank-required"}),
        ({"holding_tank": "fitted"}, {"holding-tank-required"}, {"holding-tank"}),
        ({"teak_deck": "none"}, {"teak-overlay"}, {"deck-tapping"}),
        ({"heater": "none"}, {"cabin-heater"}, {"stove-and-alarms"}),
        ({"heater": "electric"}, {"cabin-heater"}, {"stove-and-alarms"}),
        ({"steering": "tiller"}, {"emergency-tiller"}, {"steering-run"}),
    ],
)
def test_what_she_does_not_have_falls_away(has, gone, left):
    def codes(particulars):
        found = checklist(REAL, particulars=particulars, conditions=())
        return {check.checkpoint.code for check in found.possible}

    assert codes({}) >= gone | left, "where nobody said, she may have it"
    assert codes(has) & (gone | left) == left


def test_the_words_for_particulars_are_those_of_the_boats():
    spoken = {
        "hull_material": vocabulary.HullMaterial,
        "keel": vocabulary.Keel,
        "keel_ballast": vocabulary.KeelBallast,
        "rudder": vocabulary.Rudder,
        "drive": vocabulary.Drive,
        "propeller": vocabulary.Propeller,
        "mast": vocabulary.Mast,
        "standing_rigging": vocabulary.StandingRigging,
        "fuel": vocabulary.Fuel,
        "steering": vocabulary.Steering,
        "windlass": vocabulary.Windlass,
        "holding_tank": vocabulary.HoldingTank,
        "teak_deck": vocabulary.TeakDeck,
        "heater": vocabulary.Heater,
    }
    assert {name: tuple(words.values) for name, words in spoken.items()} == PARTICULARS
