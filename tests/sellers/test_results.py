"""What sellers' answers do to results: they move beliefs, and are never a look."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from apps.appraisal.compute.arrays import list_arrays
from apps.appraisal.compute.computing import believe
from apps.appraisal.compute.inputs import read_inputs
from apps.reckoning.levels import mean_level
from apps.sellers.facts import LiveAnswer
from apps.viewings.services import clearance_add

KEEL, RUDDER = "keel-joint-line", "rudder-blade"
LEGAL = "ownership-and-debts"


@pytest.fixture
def petrel(yard):
    return yard.boat("Petrel")


def said(boat, checkpoint: str, level: int, **changed) -> LiveAnswer:
    facts = {
        "candidate_id": boat.pk,
        "checkpoint": checkpoint,
        "checkpoint_version_id": None,
        "question": "",
        "level": level,
        "said_by": "owner",
        "said_on": date(2025, 3, 2),
    }
    return LiveAnswer(**{**facts, **changed})


def told(yard, *answers: LiveAnswer):
    return replace(read_inputs(yard.list.pk), answers=answers)


def level_at(believed, code: str) -> float:
    j = [one.code for one in believed.arrays.checkpoints].index(code)
    return float(mean_level(believed.belief.level)[0, j])


def test_an_answer_moves_the_belief_a_bad_one_further(yard, petrel):
    before = level_at(believe(told(yard)), LEGAL)
    better = level_at(believe(told(yard, said(petrel, LEGAL, 0))), LEGAL)
    worse = level_at(believe(told(yard, said(petrel, LEGAL, 3))), LEGAL)
    assert better < before < worse
    assert worse - before > 2 * (before - better)


def test_a_seller_counts_less_than_a_member_who_looked(yard, petrel, cast):
    said_so = level_at(believe(told(yard, said(petrel, LEGAL, 0))), LEGAL)
    before = level_at(believe(told(yard)), LEGAL)
    yard.look(petrel, cast.ben.person, {LEGAL: 0})
    seen = level_at(believe(told(yard)), LEGAL)
    assert before - seen > before - said_so > 0


def test_only_the_latest_answer_of_one_person_counts(yard, petrel):
    first, last = said(petrel, LEGAL, 4), said(petrel, LEGAL, 1, said_on=date(2025, 4, 1))
    both = list_arrays(told(yard, first, last))
    assert [one.level for one in both.statements] == [1]
    by_broker = replace(last, said_by="broker")
    assert [one.level for one in list_arrays(told(yard, first, by_broker)).statements] == [4, 1]


def test_an_answer_from_before_a_repair_counts_no_more(yard, petrel, cast):
    answers = (said(petrel, KEEL, 3), said(petrel, RUDDER, 3))
    clearance_add(
        candidate=petrel,
        by=cast.ben.person,
        checkpoint=KEEL,
        basis="repair",
        level=0,
        document="Invoice 17",
        dated_on=timezone.now().date() - timedelta(days=1),
    )
    arrays = list_arrays(told(yard, *answers))
    sellers = [one for one in arrays.statements if one.grader.kind == "seller"]
    assert [arrays.checkpoints[one.checkpoint].code for one in sellers] == [RUDDER]


def test_looks_teach_how_this_seller_leans(yard, petrel, cast):
    """Who called sound what two people then found defective is believed less elsewhere."""
    codes = ["mainsail", "headsails", "deck-cracks", "engine-oil", "blister-depth", KEEL]
    praise = [said(petrel, code, 0) for code in codes]
    alone = believe(told(yard, *praise, said(petrel, LEGAL, 0)))
    for who in (cast.ben, cast.bea):
        yard.look(petrel, who.person, dict.fromkeys(codes, 3))
    caught = believe(told(yard, *praise, said(petrel, LEGAL, 0)))

    def lean(believed) -> float:
        sellers = [grader.kind == "seller" for grader in believed.arrays.graders]
        return float(believed.belief.graders.lean_mean[sellers].item())

    assert lean(caught) < lean(alone) - 0.1
    assert level_at(caught, LEGAL) > level_at(alone, LEGAL)


LEVELS = st.integers(0, 4)


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(st.tuples(st.integers(0, 200), LEVELS, st.sampled_from(["owner", "broker"])),
                max_size=12))  # fmt: skip
def test_answers_are_no_looks_and_clear_no_doubt(yard, petrel, cast, answers):
    """Coverage, what counts as seen or disputed, and the open doubts are as without them."""
    if not petrel.viewings.exists():
        yard.look(petrel, cast.ben.person, {KEEL: 3, "deck-cracks": 1, "mainsail": 2})
    without = believe(told(yard))
    codes = [checkpoint.code for checkpoint in without.arrays.checkpoints]
    said_so = [said(petrel, codes[n % len(codes)], level, said_by=who) for n, level, who in answers]
    heard = believe(told(yard, *said_so))
    for name in ("coverage", "uncorrected"):
        np.testing.assert_array_equal(
            getattr(heard.condition, name), getattr(without.condition, name)
        )
    np.testing.assert_array_equal(heard.cause, without.cause)
    np.testing.assert_array_equal(heard.arrays.looked, without.arrays.looked)
    np.testing.assert_array_equal(heard.arrays.doubt_level, without.arrays.doubt_level)
    assert heard.arrays.doubts == without.arrays.doubts
    assert (heard.arrays.fleet.applies == without.arrays.fleet.applies).all()


# --- Over the API --------------------------------------------------------------------------------


def answered(who, boat, **body):
    sent = {"answer": "So he says.", "said_by": "owner", "said_on": "2025-03-02", **body}
    made = who.post(f"/candidates/{boat.pk}/seller-answers", sent)
    assert made.status_code == 201, made.content


def test_the_consensus_names_it_as_the_sellers_word(yard, petrel, cast):
    answered(cast.ben, petrel, checkpoint=LEGAL, level=3)
    yard.recompute()
    consensus = cast.ben.get(f"/candidates/{petrel.pk}/consensus").json()["consensus"]
    (one,) = [one for one in consensus["checkpoints"] if one["checkpoint"] == LEGAL]
    (report,) = one["reports"]
    assert (report["kind"], report["said_by"], report["level"]) == ("seller", "owner", 3)
    assert (report["person_id"], one["looks"], one["cause"]) == (None, 0, "not_seen")
    assert consensus["condition"]["coverage"] == 0
    raters = cast.ben.get(f"/lists/{yard.list.pk}/raters").json()
    assert raters["raters"] == []


def test_an_answer_to_walk_away_from_makes_her_fall_out(yard, petrel, cast):
    """Who cannot show a right to sell: nobody has to travel."""
    at = f"/candidates/{petrel.pk}/seller-effect"
    assert cast.ivy.get(at).json()["answers"] == 0
    answered(cast.ben, petrel, checkpoint=LEGAL, level=4)
    effect = cast.ivy.get(at).json()
    assert (effect["answers"], effect["falls_out"]) == (1, True)
    assert not effect["before"]["strike_off_advised"]
    assert [one["code"] for one in effect["after"]["advice"]] == ["walk_away_finding"]
    assert "nobody has to travel" in effect["sentence"]
    assert "no look" in effect["caution"]


def test_the_effect_is_what_the_board_changed_by(yard, petrel, cast):
    yard.recompute()
    board = f"/lists/{yard.list.pk}/board"
    (before,) = cast.ben.get(board).json()["candidates"]
    answered(cast.ben, petrel, checkpoint="wire-age", particulars={"rigging_year": 2024})
    answered(cast.ben, petrel, checkpoint=LEGAL, level=2)
    yard.recompute()
    (after,) = cast.ben.get(board).json()["candidates"]
    effect = cast.ben.get(f"/candidates/{petrel.pk}/seller-effect").json()
    assert effect["before"]["all_in"]["mean"] == before["all_in"]["mean"]
    assert effect["after"]["all_in"]["mean"] == after["all_in"]["mean"]
    assert before["all_in"]["mean"] != after["all_in"]["mean"]
    assert not effect["falls_out"]
    assert effect["sentence"] != "Nothing changes for her."


def test_a_known_year_lowers_the_value_of_asking_for_it(yard, cast):
    """The value of looking takes the answers into account.

    The boats are of an age at which the first wire may still stand: asking is worth hundreds.
    """
    petrel = yard.boat("Petrel", 24_000, build_year=2005)
    other = yard.boat("Fulmar", 25_000, build_year=2005)
    yard.recompute()
    for row in cast.ben.get(f"/lists/{yard.list.pk}/board").json()["candidates"]:
        boat = petrel if row["candidate_id"] == str(petrel.pk) else other
        yard.valuation(boat, cast.ben.person, round(float(row["all_in"]["mean"])))
    yard.recompute()
    at = f"/lists/{yard.list.pk}/next-looks?wait=0"

    def asked() -> set[tuple[str, str]]:
        questions = cast.ben.get(at).json()["questions"]
        return {(one["candidate_id"], one["subject"]) for one in questions}

    before = asked()
    assert (str(petrel.pk), "rigging_year") in before
    answered(cast.ben, petrel, checkpoint="wire-age", particulars={"rigging_year": 2020})
    yard.recompute()
    assert (str(petrel.pk), "rigging_year") not in asked()
