"""Old results are returned as far as they are readable, with a warning, and never as a 500."""

import json
import re
from itertools import chain, cycle
from typing import Any

import pytest

from apps.appraisal import stored as shapes
from apps.appraisal.compute.computing import METHOD
from apps.appraisal.jobs import boards_behind, list_recompute
from apps.appraisal.models import ListAppraisal
from apps.appraisal.stored import value_read
from apps.boats.list_models import CandidateList
from tests.appraisal.building import load_catalogue
from tests.conftest import Speaker
from tests.old_results.rows import FILES, KINDS, Old, instead, old_made, places, rows_of, without
from tests.system.operations import operations

BOARDS = ("board_read", "board_csv", "board_svg", "board_page", "order_read", "board_png")
# Where each kind is read.
READ_BY = {
    "standing": (*BOARDS, "decision_brief_page"),
    "next_looks": ("next_looks_read", "decision_brief_page", "viewing_sheet_page"),
    "raters": ("raters_read", "decision_brief_page"),
    "rollup": ("rollup_read",),
    "consensus": ("consensus_read", "decision_brief_page", "viewing_sheet_page"),
    "reasons": ("reasons_read", "decision_brief_page", "viewing_sheet_page"),
    "explanation": ("explanation_read", "explanation_svg", "decision_brief_page"),
}
# Pictures and pages take long to draw: where every key is taken out, one kind of each is enough.
QUICK = {"board_png", "board_svg", "explanation_svg", "decision_brief_page"}


def asked(old: Old, who: Speaker, operation: str) -> Any:
    said = operations()[operation]
    ids = {
        "list_id": old.yard.list.pk,
        "candidate_id": old.boats[0],
        "viewing_id": old.viewing.pk,
    }
    answer = who.get(said.path.format(**ids))
    assert answer.status_code == 200, (operation, answer.content[:300])
    assert said.faults_of(answer) == []
    return answer


def said_in(answer: Any) -> str:
    """The text of a page, a table or a picture, without line breaks."""
    return " ".join(re.sub("<[^>]*>", " ", answer.content.decode()).split())


def codes(answer: Any) -> list[str]:
    return [one["code"] for one in answer.json()["warnings"]]


EVERYTHING = sorted({*chain(*READ_BY.values())})


@pytest.mark.parametrize("operation", EVERYTHING)
def test_old_rows_are_read_and_said_to_be_old(old, cast, operation):
    answer = asked(old, cast.ola, operation)
    if answer["Content-Type"].startswith("application/json"):
        assert codes(answer)[-1] == "older_method"
        assert answer.json()["fresh"] is False
        assert answer.json()["method"] == "2"
    elif operation not in ("board_png", "viewing_sheet_page"):
        assert "come from an earlier version" in said_in(answer)


def test_the_figures_are_those_that_were_stored(old, cast):
    board = asked(old, cast.ola, "board_read").json()
    rows = old.appraisal.standing["rows"]
    for name in ("candidate_id", "place", "all_in", "condition", "open_doubts", "within_budget"):
        assert [row[name] for row in board["candidates"]] == [row[name] for row in rows]
    rollup = asked(old, cast.ola, "rollup_read").json()["rollup"]
    assert rollup["parts"] == old.row("rollup").rollup["parts"]
    looks = asked(old, cast.ola, "next_looks_read").json()
    assert len(looks["surveys"]) == len(old.appraisal.next_looks["surveys"])


@pytest.mark.parametrize("kind", KINDS)
def test_whatever_key_is_missing_is_no_failure(old, cast, kind):
    """Each key of the stored value in turn, in all lines at once."""
    row = old.row(kind)
    whole = getattr(row, kind)
    operation = next(one for one in READ_BY[kind] if one not in QUICK)
    states = set()
    for place in places(whole):
        setattr(row, kind, without(whole, place))
        row.save(update_fields=[kind])
        answer = asked(old, cast.ola, operation)
        found = set(codes(answer))
        assert found & {"older_method", "partly_readable", "worked_out_anew"}, place
        states |= found
        read = value_read(getattr(row, kind), shapes.KINDS[kind])
        assert ("worked_out_anew" in found) == (read.value is None), place
    assert "partly_readable" in states


OTHERS = cycle([None, "a_later_word", -7, [], {}])


@pytest.mark.parametrize("kind", KINDS)
def test_whatever_is_of_another_kind_is_no_failure(old, cast, kind):
    row = old.row(kind)
    whole = getattr(row, kind)
    operation = next(one for one in READ_BY[kind] if one not in QUICK)
    for place, other in zip(places(whole), OTHERS, strict=False):
        setattr(row, kind, instead(whole, place, other))
        row.save(update_fields=[kind])
        asked(old, cast.ola, operation)


# One key each that is left out, and one without which nothing of its kind can be read.
TELLING = {
    "standing": [("rows", "*", "all_in"), ("rows", "*", "all_in", "high"), ("rows", "*", "advice")],
    "next_looks": [("visits", "*", "value"), ("surveys", "*", "fee")],
    "raters": [("raters", "*", "lean"), ("agreement", "list", "value")],
    "rollup": [("all_in",), ("currency",)],
    "consensus": [("care",), ("checkpoints", "*", "reports", "*", "level")],
    "reasons": [("wants", "*", "text"), ("doubts", "*", "judged_by")],
    "explanation": [("changes", "*", "effect"), ("waterfall", "*", "total")],
}


@pytest.mark.parametrize(
    ("kind", "place"), [(kind, place) for kind, places in TELLING.items() for place in places]
)
def test_pages_and_pictures_survive_it_too(old, cast, kind, place):
    row = old.row(kind)
    setattr(row, kind, without(getattr(row, kind), place))
    row.save(update_fields=[kind])
    for operation in READ_BY[kind]:
        asked(old, cast.ola, operation)


def test_what_cannot_be_read_is_not_said_to_be_nothing(old, cast):
    """No doubt that can be read is not the same as no doubt."""
    row = old.row("reasons")
    row.reasons = without(row.reasons, ("doubts", "*", "level"))
    row.save()
    reasons = asked(old, cast.ola, "reasons_read").json()
    assert (reasons["reasons"], reasons["computed_at"], reasons["revision"]) == (None, None, 0)
    for operation in ("decision_brief_page", "viewing_sheet_page"):
        page = said_in(asked(old, cast.ola, operation))
        assert "does not mean that none is open" in page


def test_a_boat_without_her_range_is_not_priced_at_nothing(old, cast):
    row = old.row("standing")
    row.standing = without(row.standing, ("rows", "*", "all_in", "likely"))
    row.save()
    board = asked(old, cast.ola, "board_read").json()
    assert codes(asked(old, cast.ola, "board_read")) == ["partly_readable", "older_method"]
    for boat in board["candidates"]:
        assert (boat["all_in"], boat["within_budget"]) == (None, None)
        assert "cannot be shown until it has been computed again" in boat["sentences"][0]


def test_what_rests_on_opinions_stays_with_those_who_may_see_them(old, cast):
    """It is not kept of old results what they rest on: to be hidden is not to be forgotten."""
    CandidateList.objects.update(opinions_open=False)
    board = asked(old, cast.ivy, "board_read").json()
    assert (board["candidates"], board["votes"]) == ([], None)
    assert [one["code"] for one in board["warnings"]] == ["worked_out_anew"]
    for operation in ("next_looks_read", "reasons_read"):
        assert codes(asked(old, cast.ivy, operation)) == ["worked_out_anew"]
    assert asked(old, cast.ivy, "explanation_read").json()["waterfall"]


def test_looks_that_are_missing_settle_nothing(old, cast):
    row = old.row("next_looks")
    row.next_looks = without(row.next_looks, ("visits", "*", "checks"))
    row.save()
    looks = asked(old, cast.ola, "next_looks_read").json()
    assert (looks["visits"], looks["settled"], looks["fresh"]) == ([], False, False)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_smaller_list(cast, file, db):
    load_catalogue()
    old = old_made(cast, file, "list_of_few")
    for operation in ("board_read", "next_looks_read", "raters_read", "decision_brief_page"):
        asked(old, cast.ola, operation)


# --- Worked out anew -----------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["consensus", "standing"])
def test_old_rows_do_not_keep_a_list_from_being_worked_out_anew(old, cast, kind):
    """To tell of new disagreements the job reads what was stored before."""
    row = old.row(kind)
    setattr(row, kind, {"of": "another time"})
    row.save()
    if kind == "consensus":
        row.consensus = without(
            rows_of(FILES[-1])["candidates"][old.boats[0]]["consensus"],
            ("checkpoints", "*", "reports"),
        )
        row.save()
    list_recompute(list_id=old.yard.list.pk)
    assert (old.appraisal.last_error, old.appraisal.attempts) == ("", 0)
    for operation in EVERYTHING:
        answer = asked(old, cast.ola, operation)
        if answer["Content-Type"].startswith("application/json"):
            assert (codes(answer), answer.json()["fresh"]) == ([], True)


def test_looks_of_an_older_method_are_old_though_the_board_is_new(old, cast):
    """The board comes first; whoever dies after it must not leave old looks as new ones."""
    ListAppraisal.objects.update(method=METHOD)
    assert not boards_behind().exists()
    for operation in ("next_looks_read", "raters_read", "explanation_read"):
        answer = asked(old, cast.ola, operation)
        assert (answer.json()["fresh"], codes(answer)[-1]) == (False, "older_method")
    list_recompute(list_id=old.yard.list.pk)
    assert asked(old, cast.ola, "next_looks_read").json()["fresh"] is True


# --- The shapes ----------------------------------------------------------------------------------


def test_what_is_stored_today_is_as_its_shape_says(spring, cast):
    """To the letter: what a computation adds, takes away or renames is said in its shape."""
    yard = spring.yard
    yard.want(
        cast.ben.person,
        kind="must",
        subject="particular",
        key="draught_m",
        test="at_most",
        value=1.4,
    )
    yard.want(cast.bea.person, kind="wish", subject="free", text="one can stand up in her")
    yard.ballot(cast.ben.person, [spring.skua], [spring.petrel], [spring.fulmar])
    yard.look(spring.skua, cast.ola.person, {"keel-joint-line": 3, "deck-cracks": 4})
    gull = yard.boat("Gull", 20_000, build_year=None)
    yard.valuation(gull, cast.ben.person, 40_000)
    yard.strike_off(gull, "Too far gone.")
    yard.recompute()
    appraisal = ListAppraisal.objects.get(pk=yard.list.pk)
    rows = [appraisal, *appraisal.candidates.all()]
    told = set()
    kinds = [*KINDS, "cost_looks"]
    for row in rows:
        for kind in kinds:
            if stored := getattr(row, kind, None):
                assert as_json(value_read(stored, shapes.KINDS[kind]).value) == as_json(stored), (
                    kind
                )
                told.add(kind)
    assert told == {*kinds} == {*shapes.KINDS} - {"rests_on"}
    for narrower in appraisal.narrower.all():
        kind = "standing" if narrower.of == "board" else "next_looks"
        assert as_json(value_read(narrower.results, shapes.KINDS[kind]).value) == as_json(
            narrower.results
        )
        assert value_read(narrower.rests_on, shapes.RESTS_ON).value == narrower.rests_on


def as_json(value: Any) -> Any:
    return json.loads(json.dumps(value))
