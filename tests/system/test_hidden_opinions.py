"""Hidden opinions do not affect any answer or page for a reader who may not see them.

Two buyers have different valuations, ballots and votes on two boats in two runs. Every answer to a
reader who may not see them must be the same in both, to the last byte, except random ids.
"""

from dataclasses import dataclass

import pytest
from django.utils import timezone

from apps.appraisal.compute import computing
from tests.pages.browser import Browser
from tests.pages.walking import pages
from tests.system.calls import CALLS
from tests.system.hidden import ONE, OTHER, Opinions, Secret, secret_made
from tests.system.operations import Operation, operations
from tests.system.walk import Standing

pytestmark = [pytest.mark.django_db, pytest.mark.long]

# Answers that follow from the opinions for who may see them: else the comparison proves nothing.
FOLLOW_OPINIONS = {
    *("board_read", "board_csv", "board_page", "board_svg", "order_read"),
    *("next_looks_read", "reasons_read", "explanation_read", "offer_advice_read", "what_if"),
    *("decision_brief_page", "decision_brief_paper", "valuations_list", "ballots_list"),
    *("candidate_submissions_list", "viewing_submissions_list"),
}
PAGES_FOLLOW_OPINIONS = {"board", "boat", "compare", "offers", "opinions"}


@dataclass(frozen=True)
class Told:
    """The answers by operation and reader, and messages by other channels."""

    answers: dict[str, dict[str, list[str]]]
    beside: dict[str, list[str]]


@pytest.fixture
def secret(worlds, monkeypatch) -> Secret:
    """Stop the clock, because times would differ without meaning."""
    monkeypatch.setattr(computing, "DRAWS", 1024)
    now = timezone.now()
    monkeypatch.setattr(timezone, "now", lambda: now)
    return secret_made(worlds)


def reads() -> list[Operation]:
    """All reading operations, in the order of what they need first."""
    found = [o for o in operations().values() if not o.writes or o.id == "what_if"]
    givens = [CALLS[o.id].given for o in found]
    return sorted(found, key=lambda o: givens.index(CALLS[o.id].given))


def told(secret: Secret, opinions: Opinions) -> Told:
    """The answers to everybody from whom it is hidden, and to one of the two buyers."""
    readers = {**secret.who, "teller": secret.tellers[0]}
    given, answers = Standing(keep=False), {}
    with secret.told(opinions):
        beside = secret.beside()
        for operation in reads():
            given.become(CALLS[operation.id].given, secret.world)
            answers[operation.id] = {
                name: secret.answers(operation, who) for name, who in readers.items()
            }
        given.end()
    return Told(answers, beside)


def test_what_is_hidden_changes_no_answer_to_anybody_from_whom_it_is_hidden(secret, subtests):
    one, other = told(secret, ONE), told(secret, OTHER)
    for operation in reads():
        for who in secret.who:
            with subtests.test(operation.id, who=who):
                assert one.answers[operation.id][who] == other.answers[operation.id][who]
    for what in one.beside:
        with subtests.test(what):
            assert one.beside[what] == other.beside[what]
    follow = {
        operation
        for operation in one.answers
        if one.answers[operation]["teller"] != other.answers[operation]["teller"]
    }
    assert follow >= FOLLOW_OPINIONS
    # And there was something to see for everybody.
    for who in ("observer", "helper", "buyer who gave one", "program of the group"):
        assert one.answers["next_looks_read"][who][0].startswith("200"), who


def shown(secret: Secret, opinions: Opinions) -> dict[str, dict[str, list[str]]]:
    """Every page by name and reader, programs left out."""
    readers = {**secret.who, "teller": secret.tellers[0]}
    with secret.told(opinions):
        browsers = {name: Browser(who) for name, who in readers.items() if who.person}
        return {
            page: {name: secret.pages(path, browser) for name, browser in browsers.items()}
            for page, path in pages().items()
        }


def test_nor_any_page(secret, subtests):
    one, other = shown(secret, ONE), shown(secret, OTHER)
    for page, by_reader in one.items():
        for who in by_reader.keys() - {"teller"}:
            with subtests.test(page, who=who):
                assert by_reader[who] == other[page][who]
    follow = {page for page in one if one[page]["teller"] != other[page]["teller"]}
    assert follow >= PAGES_FOLLOW_OPINIONS
    # And there was something to see.
    for who, page in (("observer", "board"), ("adviser who took a boat on", "second-opinion")):
        assert any(said.startswith("200") for said in one[page][who]), who
