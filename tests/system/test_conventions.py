"""Every operation of the OpenAPI document keeps to the conventions of the API.

There are no hand-picked cases: each test goes through the whole document, and `calls.py` has a call
for each operation. Two groups have the same records, each with its own word in every text; no
answer may contain a word or an id of the other group, or anything undocumented.
"""

import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from uuid import UUID

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from apps.groups.models import ClubMembership, Membership
from tests.conftest import pointers
from tests.system.bodies import faults_told, objects_in, open_objects, with_field
from tests.system.calls import CALLS, Call
from tests.system.operations import Operation, filled, operations
from tests.system.walk import OUTSIDERS, Standing, Walk, changed_since, stored, those

pytestmark = [pytest.mark.django_db, pytest.mark.long]

# Kept on one page: small, and wanted as a whole by a client without signal.
WHOLE = {
    *("checkpoints_list", "remedies_list", "cautions_list", "scales_list"),
    *("club_catalogue_entries_list", "group_catalogue_entries_list"),
    *("club_catalogue_differences_list", "group_catalogue_differences_list"),
}
# One's own keys: there is nothing in them that somebody else could have changed meanwhile.
UNVERSIONED = {"sessions_close", "tokens_revoke", "grants_revoke"}
# In this order: open to all, so nobody is known yet whose repeat it could be; a repeat has the
# wrong password; stores nothing; recognises repeats by the ids that the client made.
WITHOUT_KEY = {"sessions_open", "people_change_password", "what_if", "submission_batches_create"}
# Pages of another kind: from a cursor onwards, and there is always a next one.
FEEDS = {"changes_list"}
# Their answers say nothing about anybody but the caller.
TELL_NOTHING = {"assignments_answer", "assignments_hand_back"}
# Drawn anew for each reader, from what has its own ETag.
DRAWN = {
    "board_csv",
    "ledger_csv",
    "record_csv",
    "agreement_text",
    "board_page",
    "board_svg",
    "board_png",
    "explanation_svg",
    "outcomes_page",
    "outcomes_svg",
}
WITHOUT_ETAG = {"checklist_read", "assignment_checklist_read", "deliveries_read", *DRAWN}


@pytest.fixture
def walk(worlds, subtests) -> Iterator[Walk]:
    walk = replace(worlds, subtests=subtests, given=Standing())
    yield walk
    walk.given.end()


def test_every_operation_has_its_call_and_every_call_its_operation():
    missing, left_over = operations().keys() - CALLS.keys(), CALLS.keys() - operations().keys()
    assert not missing, "say in calls.py how each of these is called: one line"
    assert not left_over


def test_every_call_succeeds_and_answers_as_documented(walk):
    """Without this the refusals below would prove nothing."""
    for operation in those():
        with walk.trial(operation):
            walk.succeed(operation)


# --- Bodies --------------------------------------------------------------------------------------

# Where keys are data: each must be one of a list, and is refused by what the list is of.
MAPS = {"/brief/exchange_rates": "unknown_currency", "/sources": "unknown_key"}


def test_a_field_that_nobody_knows_is_refused_by_name_at_every_depth(walk):
    for operation in those(lambda o: o.writes):
        with walk.trial(operation) as call:
            body = call.body(walk.here) if call.body else {}
            for at in objects_in(body):
                version = walk.version(operation)
                refused = walk.ask(operation, body=with_field(body, at, "unheard_of"), **version)
                code = MAPS.get(at, "unknown_field")
                assert (f"{at}/unheard_of", code) in faults_told(refused), (at, refused.content)


def test_every_object_in_a_body_is_closed():
    """Also those that no call sends: an object takes the fields it names, or has a rule for all."""
    for operation in those(lambda o: o.takes_body):
        for media in operation.spec["requestBody"]["content"].values():
            open_ones = list(open_objects(media["schema"]))
            assert open_ones == [], (operation.id, open_ones)


# --- Who may -------------------------------------------------------------------------------------


def test_who_may_not_is_refused_and_changes_nothing(walk):
    for operation in those():
        with walk.trial(operation) as call:
            before = stored() if operation.writes else {}
            answers = {who: tried(walk, operation, who) for who in expected(operation, call)}
            assert answers == expected(operation, call)
            assert not operation.writes or changed_since(before) == {}


def expected(operation: Operation, call: Call) -> dict[str, int]:
    return {
        "nobody": call.nobody,
        "expired": 401,
        "revoked": 401,
        **dict.fromkeys(OUTSIDERS, call.outsider),
        "observer": call.observer or (403 if operation.writes else 200),
        **dict.fromkeys(call.refused, 403),
    }


def tried(walk: Walk, operation: Operation, who: str) -> int:
    """The status of a call. A success is undone; a refusal must have changed nothing."""
    with transaction.atomic():
        answer = walk.ask(operation, who, **walk.version(operation, who))
        transaction.set_rollback(answer.status_code < 400)
    if answer.status_code == 403:
        assert answer.json()["roles"], "it says who could"
    return answer.status_code


def test_who_may_not_is_told_so_whatever_is_wrong_beside(walk):
    """With a body that nobody could read, or a version that is missing or old.

    An observer, a club's plain member or adviser, and whoever is not the author of the thing.
    """
    for operation in those(lambda o: o.writes):
        call = CALLS[operation.id]
        observer = ("observer",) if call.observer in (None, 403) else ()
        for who in (*observer, *call.refused):
            with walk.trial(operation):
                answers = asked_wrongly(walk, operation, who)
                found = {how: answer.status_code for how, answer in answers.items()}
                assert found == dict.fromkeys(answers, 403), who


def asked_wrongly(walk: Walk, operation: Operation, who: str) -> dict[str, Any]:
    """The answers to every kind of faulty request."""
    call = CALLS[operation.id]
    body = call.body(walk.here) if call.body else None
    version = walk.version(operation, who)
    answers = {}
    if operation.takes_form:
        answers["bad body"] = walk.ask(operation, who, body={"nonsense": "1"})
    elif operation.takes_body:
        for bad in ({"nonsense": 1}, []):
            answers[f"body {bad}"] = walk.ask(operation, who, body=bad, **version)
    if operation.takes_version:
        answers["no version"] = walk.ask(operation, who, body=body)
        answers["old"] = walk.ask(operation, who, body=body, If_Match='"another"')
    return answers


def test_of_every_write_in_a_club_it_is_said_who_of_the_club_may_not():
    """Else the walk above would pass by a club's plain member. A trip of their own anybody may."""
    in_clubs = {o.id for o in those(lambda o: o.writes and o.path.startswith("/api/v1/clubs/{"))}
    assert {id for id in in_clubs if not CALLS[id].refused} == {"club_trips_create"}


def test_a_token_limited_to_everything_else_opens_nothing(walk):
    for operation in those(lambda o: o.spec["security"]):
        with walk.trial(operation):
            refused = walk.ask(operation, walk.narrowed(operation), If_Match="*")
            assert refused.status_code == 403, refused.content
            code = "insufficient_scope" if operation.scope else "session_needed"
            assert refused.json()["code"] == code
            assert refused.json().get("scope") == operation.scope


def test_references_to_another_groups_things_are_refused(walk):
    """Ids in bodies are the classic leak: here every id is one of the other group's."""
    for operation in those(lambda o: o.takes_body and not CALLS[o.id].keyed):
        with walk.trial(operation) as call:
            own = json.dumps(call.body(walk.here))
            named = own
            for name, id in walk.here.ids.items():
                named = named.replace(id, walk.there.ids[name])
            if named == own:
                continue
            foreign = json.loads(named)
            before = stored()
            answer = walk.ask(operation, body=foreign, **walk.version(operation))
            # A batch is answered by 207 even where it is refused in all its parts.
            assert answer.status_code in (207, 404, 422), answer.content
            assert changed_since(before) == {}


# --- Writing -------------------------------------------------------------------------------------


def test_a_repeat_with_the_same_key_gets_the_first_answer_and_does_nothing(walk):
    for operation in those(lambda o: o.takes_key and not CALLS[o.id].keyed):
        with walk.trial(operation) as call:
            body = call.body(walk.here) if call.body else {}
            first = walk.ask(operation, body=body, Idempotency_Key='"once"')
            assert 200 <= first.status_code < 300, first.content
            before = stored()
            again = walk.ask(operation, body=body, Idempotency_Key='"once"')
            assert again["Idempotent-Replay"] == "true"
            assert again.status_code == first.status_code
            assert again.get("ETag") == first.get("ETag")
            other = walk.ask(operation, body={**body, "something": "else"}, Idempotency_Key="once")
            assert (other.status_code, fault(other)["code"]) == (422, "idempotency_key_reused")
            assert changed_since(before) == {}


def test_a_repeat_of_somebody_who_lost_access_gets_nothing(walk):
    """What was answered once is remembered, and may not be told to whoever has left since."""
    for operation in those(lambda o: o.takes_key and CALLS[o.id].outsider == 404):
        with walk.trial(operation) as call:
            first = walk.ask(operation, Idempotency_Key="once")
            assert 200 <= first.status_code < 300, first.content
            who = walk.who[call.by].person
            for memberships in (Membership, ClubMembership):
                memberships.objects.filter(person=who).update(ended_at=timezone.now())
            again = walk.ask(operation, Idempotency_Key="once")
            if operation.id in TELL_NOTHING:
                continue
            assert again.status_code == 404, (operation.id, again.content)
            assert not again.has_header("Idempotent-Replay")


def fault(answer):
    return answer.json()["errors"][0]


def test_every_post_takes_a_key():
    keyed = {o.id for o in those(lambda o: o.takes_key)}
    assert keyed == {o.id for o in those(lambda o: o.method == "POST")} - WITHOUT_KEY


def test_every_change_names_the_version_it_is_made_from():
    changes = {o.id for o in those(lambda o: o.method in ("PUT", "PATCH", "DELETE"))}
    assert {o.id for o in those(lambda o: o.takes_version)} == changes - UNVERSIONED


def test_a_change_without_a_version_or_with_another_one_is_refused(walk):
    for operation in those(lambda o: o.takes_version):
        with walk.trial(operation):
            etag, before = walk.version(operation)["If_Match"], stored()
            assert walk.ask(operation).status_code == 428
            for other in ('"another"', f"W/{etag}", etag.strip('"')):
                assert walk.ask(operation, If_Match=other).status_code == 412
            assert changed_since(before) == {}


def test_a_change_makes_the_version_it_was_made_from_an_old_one(walk):
    for operation in those(lambda o: o.takes_version):
        with walk.trial(operation):
            version = walk.version(operation)
            assert walk.ask(operation, **version).status_code < 300
            assert walk.ask(operation, **version).status_code in (404, 409, 412)


# --- Reading -------------------------------------------------------------------------------------


def test_an_unknown_parameter_is_refused_by_name(walk):
    for operation in those():
        with walk.trial(operation):
            refused = walk.ask(operation, query="?nonsense=1", If_Match="*")
            assert pointers(refused) == {"?nonsense"}


def test_an_id_in_a_path_may_be_written_in_capitals(walk):
    # RFC 9562 section 4: output in lower case, but case-insensitive on input.
    for operation in those(lambda o: not o.writes and o.parameters("path")):
        with walk.trial(operation) as call:
            ids = {name: id.upper() for name, id in walk.here.ids.items() if is_uuid(id)}
            path = filled(operation.path, walk.here.named | ids, call.at)
            answer = walk.who[call.by].get(path)
            assert answer.status_code == 200, (path, answer.content)


def test_every_id_in_a_path_is_told_to_be_a_uuid():
    for operation in operations().values():
        for parameter in operation.spec.get("parameters", ()):
            if parameter["in"] == "path" and parameter["name"].endswith("_id"):
                assert parameter["schema"] == {"type": "string", "format": "uuid"}, operation.id


def is_uuid(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True


def test_what_has_an_etag_is_not_sent_again_unchanged(walk):
    for operation in those(lambda o: not o.writes):
        with walk.trial(operation):
            answer = walk.ask(operation)
            if (etag := answer.get("ETag")) is None:
                assert operation.is_collection or operation.id in WITHOUT_ETAG
                continue
            same = walk.ask(operation, If_None_Match=f'"other", W/{etag}')
            assert (same.status_code, same.content) == (304, b"")
            assert walk.ask(operation, If_None_Match='"other"').status_code == 200


def test_every_collection_has_pages(walk):
    paged = {o.id for o in those(lambda o: o.parameters("query") >= {"cursor", "limit"})}
    assert paged == {o.id for o in those(lambda o: o.is_collection)} - WHOLE - FEEDS
    for operation in those(lambda o: o.id in paged):
        with walk.trial(operation):
            whole = walk.ask(operation, query="?limit=200").json()
            assert len(whole["results"]) > 1, "make two of it, or nothing is proved"
            assert whole["next"] is None
            assert list(rows_one_by_one(walk, operation)) == whole["results"]


def rows_one_by_one(walk: Walk, operation: Operation):
    query = "?limit=1"
    while query:
        page = walk.ask(operation, query=query).json()
        assert len(page["results"]) == 1
        yield from page["results"]
        query = page["next"] and "?" + page["next"].partition("?")[2]


def test_more_rows_take_no_more_queries(walk):
    for operation in those(lambda o: "limit" in o.parameters("query")):
        with walk.trial(operation):
            assert queries(walk, operation, "?limit=1") == queries(walk, operation, "?limit=200")


def queries(walk: Walk, operation: Operation, query: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert walk.ask(operation, query=query).status_code == 200
    return len(captured)
