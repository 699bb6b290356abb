"""Questions to a seller, fitted to the boat."""

import pytest
from django.conf import settings

from apps.boats.particulars import YEARS
from apps.catalogue.reading import read_catalogue
from apps.sellers.questions import FILLS, questions_from
from tests.appraisal.building import PARTICULARS

# What a call has to settle before anybody travels; the list of the trade, no source.
SAVES_A_JOURNEY = {
    "ownership-and-debts",
    "tax-and-conformity",
    "wire-age",
    "mainsail",
    "engine-record",
    "when-ashore",
    "boarding",
    "lockers",
    "tapping",
    "photographs",
}


@pytest.fixture(scope="module")
def catalogue():
    return read_catalogue(settings.BASE_DIR / "fixtures" / "catalogue")


def codes(questions) -> set[str]:
    return {one.code for one in questions}


def fitted(catalogue, **build):
    known = {name: word for name, word in PARTICULARS.items() if isinstance(word, str)}
    return questions_from(catalogue, known | build, ())


def test_what_saves_a_journey_is_asked_of_every_boat(catalogue):
    assert codes(fitted(catalogue).first) >= SAVES_A_JOURNEY
    assert codes(fitted(catalogue, drive="saildrive").first) >= SAVES_A_JOURNEY


def test_harm_and_insurance_are_asked(catalogue):
    asked = " ".join(one.ask for one in fitted(catalogue).first)
    assert "hard aground" in asked
    assert "insures her" in asked


def test_questions_fit_the_boat(catalogue):
    shaft, leg = fitted(catalogue), fitted(catalogue, drive="saildrive")
    seal = {one.code for one in leg.first if "saildrive's seal" in one.ask}
    assert seal
    assert not seal & codes(shaft.first)
    wheel = fitted(catalogue, fuel="electric")
    assert "engine-ready" not in codes(wheel.first)
    assert "electric-drive" in codes(wheel.first)


def test_what_is_not_known_may_be_so(catalogue):
    every = questions_from(catalogue, {}, ())
    asked = {one.code for one in (*every.first, *every.more)}
    askable = {one.code for one in catalogue.checkpoints.values() if one.ask}
    assert asked == askable | catalogue.questions.keys()


def test_each_question_stands_once_and_in_the_text(catalogue):
    questions = fitted(catalogue)
    every = [one.code for one in (*questions.first, *questions.more)]
    assert len(every) == len(set(every))
    for n, one in enumerate(questions.first, start=1):
        assert f"{n}. {one.ask}" in questions.text


def test_every_year_is_asked_for_by_a_question_that_is_there(catalogue):
    assert FILLS.keys() <= catalogue.checkpoints.keys()
    assert all(catalogue.checkpoints[code].ask for code in FILLS)
    assert set(YEARS) <= {name for names in FILLS.values() for name in names}


def test_over_the_api(cast, yard):
    boat = yard.boat("Petrel")
    at = f"/candidates/{boat.pk}/seller-questions"
    body = {"question": "boarding", "answer": "Yes, the yard has the key.", "said_by": "broker"}
    asked = cast.ivy.get(at).json()
    assert "no look" in asked["caution"]
    assert "May we come aboard" in asked["text"]
    cast.ben.post(f"/candidates/{boat.pk}/seller-answers", body)
    answered = cast.ivy.get(at).json()
    assert "May we come aboard" not in answered["text"]
    (one,) = [one for one in answered["first"] if one["code"] == "boarding"]
    assert [said["answer"] for said in one["answers"]] == ["Yes, the yard has the key."]
    (wire,) = [one for one in answered["first"] if one["code"] == "wire-age"]
    assert (wire["fills"], len(wire["levels"])) == (["rigging_year"], 5)


def test_with_everything_answered_there_is_no_text(catalogue):
    class Said:
        def __init__(self, code: str) -> None:
            self.code = code

    every = fitted(catalogue).first
    build = {name: word for name, word in PARTICULARS.items() if isinstance(word, str)}
    assert questions_from(catalogue, build, [Said(one.code) for one in every]).text == ""
