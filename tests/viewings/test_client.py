"""Every submission names the client that sent it."""

from apps.groups.models import GroupProgram
from tests.accounts.oauth import gauge, with_password
from tests.accounts.test_tokens import make
from tests.conftest import Speaker
from tests.groups.test_programs import add, speaking
from tests.viewings.conftest import look


def client_of(scene, who):
    return scene.posted(who, look("terminals", 1))["client"]


def programs(scene):
    return scene.cast.ola.get(f"/groups/{scene.cast.group.id}/programs").json()["results"]


def test_a_person_signed_in(scene):
    assert client_of(scene, scene.cast.ben) == {"kind": "session", "id": None, "name": ""}


def test_a_script_of_ones_own_without_its_private_name(scene):
    script = make(scene.cast.ben, scopes=["findings:read", "findings:write"]).json()["token"]
    said = client_of(scene, Speaker(None, script))
    assert said == {"kind": "personal", "id": None, "name": ""}


def test_a_program_of_the_group(scene):
    meter = add(scene.cast).json()
    said = client_of(scene, speaking(meter))
    assert said == {"kind": "group_program", "id": meter["program"], "name": "Moisture meter"}
    assert programs(scene)[0]["posted_at"] is not None


def test_a_program_acting_for_a_member(scene):
    app = gauge()
    tokens = app.tokens(with_password(scene.cast.hal))
    posted = scene.posted(Speaker(None, tokens["access_token"]), look("terminals", 1))
    expected = {"kind": "member_program", "id": str(app.program.id), "name": "Gauge"}
    assert (posted["author"]["name"], posted["client"]) == ("Hal", expected)
    read = scene.cast.ivy.get(f"/submissions/{posted['id']}").json()
    assert read["client"] == expected
    assert programs(scene)[0]["posted_at"] is not None
    # The name stays as it was when the findings came in.
    app.program.name = "Gauge 2"
    app.program.save()
    assert scene.cast.ivy.get(f"/submissions/{posted['id']}").json()["client"] == expected


def test_a_program_shut_out_posts_nothing(scene):
    tokens = gauge().tokens(with_password(scene.cast.hal))
    GroupProgram.objects.update(enabled=False)
    refused = scene.post(Speaker(None, tokens["access_token"]), look("terminals", 1))
    assert refused.status_code == 404


def test_a_draft_says_with_what_it_was_submitted_in_the_end(scene):
    script = make(scene.cast.ben, scopes=["findings:read", "findings:write"]).json()["token"]
    draft = scene.post(Speaker(None, script), look("terminals", 1), state="draft").json()
    assert draft["client"]["kind"] == "personal"
    body = {"state": "submitted", "findings": [look("terminals", 1)]}
    done = scene.cast.ben.change("PUT", f"/submissions/{draft['id']}", body)
    assert done.json()["client"]["kind"] == "session"


def test_posting_again_is_noted_once_an_hour(scene):
    program = speaking(add(scene.cast).json())
    client_of(scene, program)
    seen = programs(scene)[0]
    client_of(scene, program)
    assert programs(scene)[0] == seen


def test_what_was_made_from_within_names_no_client(scene):
    scene.posted(scene.cast.ben, look("terminals", 1))
    submission = scene.viewing.submissions.get()
    submission.client_kind = ""
    submission.save()
    assert scene.cast.ivy.get(f"/submissions/{submission.id}").json()["client"] is None
