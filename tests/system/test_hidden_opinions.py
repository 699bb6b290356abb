"""Nobody is told what follows from opinions that are hidden from them, whatever they ask.

Two buyers say now this and now that of two boats: what they would pay, in which order they want
them, what they call. Every answer to everybody from whom that is hidden must be the same in both
cases, to the last byte; only ids that are made anew each time are left out.
"""

from dataclasses import dataclass

import pytest
from django.utils import timezone

from apps.appraisal.compute import computing
from tests.system.calls import CALLS
from tests.system.hidden import ONE, OTHER, Opinions, Secret, secret_made
from tests.system.operations import Operation, operations
from tests.system.walk import Standing

pytestmark = [pytest.mark.django_db, pytest.mark.long]

# Who may see the opinions is told what follows from them: else the comparison would prove nothing.
FOLLOW_OPINIONS = {
    *("board_read", "board_csv", "board_page", "board_svg", "order_read"),
    *("next_looks_read", "reasons_read", "explanation_read", "what_if"),
    *("decision_brief_page", "decision_brief_paper", "valuations_list", "ballots_list"),
    *("candidate_submissions_list", "viewing_submissions_list"),
}


@dataclass(frozen=True)
class Told:
    """What was answered, by operation and reader; and what reached people otherwise."""

    answers: dict[str, dict[str, list[str]]]
    beside: dict[str, list[str]]


@pytest.fixture
def secret(worlds, monkeypatch) -> Secret:
    """The clock stands still: times would differ, and tell nothing."""
    monkeypatch.setattr(computing, "DRAWS", 1024)
    now = timezone.now()
    monkeypatch.setattr(timezone, "now", lambda: now)
    return secret_made(worlds)


def reads() -> list[Operation]:
    """Everything that only reads, in the order of what it is given."""
    found = [o for o in operations().values() if not o.writes or o.id == "what_if"]
    givens = [CALLS[o.id].given for o in found]
    return sorted(found, key=lambda o: givens.index(CALLS[o.id].given))


def told(secret: Secret, opinions: Opinions) -> Told:
    """To everybody from whom it is hidden, and to one who told it."""
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
