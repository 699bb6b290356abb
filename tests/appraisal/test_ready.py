"""Answers kept as they are sent, and the queries before a reader gets 304."""

import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.accounts.models import Person
from apps.appraisal.board.selectors import board_answer, board_of
from apps.appraisal.jobs import Of
from apps.appraisal.looks.looks_selectors import next_looks_of
from apps.appraisal.models import CandidateAppraisal, ListAppraisal, ReadyAnswer
from apps.appraisal.reading import Reading
from apps.appraisal.ready import ID, filled, marked
from apps.appraisal.words.phrases import Names
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.catalogue.models import Edition

READ = ("board", "next-looks", "raters", "order")
OF_A_BOAT = ("rollup", "consensus", "reasons", "explanation")
LARGE = {*ListAppraisal.LARGE, *CandidateAppraisal.LARGE, "body", "results", "boats"}


def paths(spring) -> list[str]:
    boat = f"/candidates/{spring.petrel.pk}"
    return [*(f"{spring.path}/{one}" for one in READ), *(f"{boat}/{one}" for one in OF_A_BOAT)]


def test_an_unchanged_answer_takes_four_queries_and_no_large_column(spring, cast):
    """The token, the list with its state, the boats, the people."""
    for who in (cast.ben, cast.ivy):
        for path in paths(spring):
            etag = who.get(path)["ETag"]
            with CaptureQueriesContext(connection) as captured:
                assert who.get(path, If_None_Match=etag).status_code == 304
            asked = [query["sql"] for query in captured.captured_queries]
            assert len(asked) <= 4, path
            assert not [name for name in LARGE for sql in asked if f'."{name}"' in sql], path


def test_what_is_kept_is_what_would_be_composed(spring, cast):
    """For who may see all, some and no opinions: Ben gave two, Ola none, Ivy may give none."""
    spring.yard.strike_off(spring.skua, 'Too dear, "by far".')
    spring.yard.valuation(spring.petrel, cast.ola.person, 60_000)
    spring.yard.recompute()
    assert ReadyAnswer.objects.filter(of="board").count() == 3
    for who in (cast.ben, cast.ola, cast.ivy):
        for path, of, compose in (
            ("board", Of.BOARD, board_of),
            ("next-looks", Of.LOOKS, next_looks_of),
        ):
            kept = who.get(f"{spring.path}/{path}")
            composed = compose(Reading.of_list(who.person, spring.yard.list.pk, of))
            for answer in (composed, sent := kept.json()):
                del answer["computed_at"]
            assert sent == composed


def changes(spring, cast):
    boats = Candidate.objects.filter(pk=spring.petrel.pk)
    lists = CandidateList.objects.filter(pk=spring.yard.list.pk)
    return {
        "a boat's name": lambda: boats.update(name='Pe"trel'),
        "a person's name": lambda: Person.objects.filter(pk=cast.bea.person.pk).update(name="Bé"),
        "the list's name": lambda: lists.update(name="Autumn"),
        "newer inputs": lambda: lists.update(inputs_revision=99),
        "a failure": lambda: ListAppraisal.objects.update(attempts=1),
        "opened opinions": lambda: lists.update(opinions_open=True),
        "a valuation of one's own": lambda: spring.yard.valuation(
            spring.petrel, cast.ivy.person, 1_000
        ),
        "a ballot of one's own": lambda: spring.yard.ballot(cast.ivy.person, [spring.petrel]),
        "a newer catalogue": lambda: Edition.objects.update(number=99),
        "a later method": lambda: ListAppraisal.objects.update(method="99", looks_method="99"),
    }


@pytest.mark.parametrize("what", range(10))
def test_whatever_changes_the_answer_changes_its_etag(spring, cast, what):
    title, change = [*changes(spring, cast).items()][what]
    before = {path: cast.ivy.get(path)["ETag"] for path in paths(spring)}
    change()
    for path, etag in before.items():
        answer = cast.ivy.get(path, If_None_Match=etag)
        assert answer.status_code == 200, (title, path)


def test_a_new_name_is_in_the_answer_at_once(spring, cast):
    Candidate.objects.filter(pk=spring.petrel.pk).update(name='Pe"trel\\ é')
    Person.objects.filter(pk=cast.bea.person.pk).update(name='B"ea')
    board = cast.ben.get(f"{spring.path}/board").json()
    assert spring.row(board, spring.petrel)["name"] == 'Pe"trel\\ é'
    assert 'B"ea' in [one["name"] for one in board["members"]]
    looks = cast.ben.get(f"{spring.path}/next-looks").json()
    assert any('Pe"trel\\ é' in one["sentence"] for one in looks["visits"])


def test_what_other_code_has_composed_is_composed_anew(spring, cast):
    ReadyAnswer.objects.update(sources="of an earlier version", body="{}")
    board = cast.ben.get(f"{spring.path}/board").json()
    assert len(board["candidates"]) == 4


def test_what_is_kept_of_other_results_is_not_sent(spring, cast):
    """Results of later inputs are stored between two queries of one read."""
    reading = Reading.of_list(cast.ben.person, spring.yard.list.pk, Of.BOARD)
    ReadyAnswer.objects.update(body="{}")
    spring.yard.recompute()
    ReadyAnswer.objects.update(body="{}")
    assert b'"candidates":[{' in board_answer(reading)


def test_marks_and_texts_of_people():
    """A text that looks like a mark stays as it is."""
    person = "0" * ID
    names = Names(people={person: 'A "b" \\ é %'})

    def compose(marks: Names) -> dict[str, str]:
        return {
            "by": marks.person(person),
            "said": "%(0)s 5 % “%%”",
            "no": marks.person(""),
        }

    text = filled(marked(compose), names).decode()
    assert json.loads(text) == compose(names)
    assert text == (
        '{"by":"A \\"b\\" \\\\ é %","said":"%(0)s 5 % \\u201c%%\\u201d","no":"somebody"}'
    )


def test_an_answer_without_names_is_filled_too():
    assert filled(marked(lambda marks: {"said": "no\n%s"}), Names()) == b'{"said":"no\\n%s"}'
