"""Owners who write and agree at the same moment, on a database with several writers."""

from functools import partial

import pytest

from apps.ownership.models import Clause, Consent, Wording
from tests.together import SEVERAL_WRITERS, at_once, statuses_at_once

pytestmark = SEVERAL_WRITERS


@pytest.fixture
def at(cast):
    return f"/groups/{cast.group.id}/agreement/arrears"


def words(who, at, text, **headers):
    return who.put(at, {"text": text}, **headers)


def test_of_two_first_wordings_one_is_kept(cast, at):
    calls = [
        partial(words, who, at, text)
        for who, text in ((cast.ben, "30 days."), (cast.bea, "60 days."), (cast.ola, "A year."))
    ]
    kept, *refused = statuses_at_once(*calls)
    assert kept == 201
    assert set(refused) <= {412, 428}
    assert (Clause.objects.count(), Wording.objects.count()) == (1, 1)


def test_of_two_other_wordings_one_is_kept(cast, at):
    held = words(cast.ben, at, "30 days.")["ETag"]
    calls = [
        partial(words, who, at, text, If_Match=held)
        for who, text in ((cast.ben, "40 days."), (cast.bea, "60 days."))
    ]
    assert statuses_at_once(*calls) == [200, 412]
    assert Clause.objects.get().wordings_made == Wording.objects.count() == 2


def test_nobody_agrees_to_words_that_change_meanwhile(cast, at):
    held = words(cast.ben, at, "30 days.")["ETag"]
    agreed, worded = at_once(
        lambda: cast.bea.post(f"{at}/consents", {"wording": 1}),
        lambda: words(cast.ben, at, "60 days.", If_Match=held),
    )
    assert worded.status_code == 200
    assert agreed.status_code in (201, 409)
    given = Consent.objects.filter(wording__number=1).count()
    assert given == (agreed.status_code == 201)
    assert not Consent.objects.filter(wording__number=2).exists()


def test_one_consent_is_given_once(cast, at):
    words(cast.ben, at, "30 days.")
    calls = [partial(cast.bea.post, f"{at}/consents", {"wording": 1}) for _ in range(4)]
    assert statuses_at_once(*calls) == [201, 409, 409, 409]
    assert Consent.objects.count() == 1
