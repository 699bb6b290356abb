"""A program made only from the OpenAPI document posts a day's findings over a bad network."""

import json
import subprocess
import sys
from itertools import chain, cycle, repeat
from pathlib import Path

import pytest

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.viewings.models import Submission, Viewing
from tests.appraisal.building import load_catalogue
from tests.clients.dropping import AFTER, BEFORE, DURING, THROUGH, dropping
from tests.system.operations import document, operations

HERE = Path(__file__).parent
PASSWORD = "tidal stream 9"
BOATS = 5


@pytest.fixture(scope="session")
def generated(tmp_path_factory) -> Path:
    """The folder of `hardstand_client`, made from the document without a single complaint."""
    folder = tmp_path_factory.mktemp("generated")
    (folder / "openapi.json").write_text(json.dumps(document()))
    command = [
        *(Path(sys.executable).with_name("openapi-python-client"), "generate", "--meta", "none"),
        *("--path", folder / "openapi.json", "--config", HERE / "generator.yml"),
        *("--output-path", folder / "hardstand_client", "--fail-on-warning"),
    ]
    made = subprocess.run(command, capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stdout + made.stderr
    return folder


@pytest.fixture
def boats(cast) -> list[Candidate]:
    load_catalogue()
    cast.hal.person.set_password(PASSWORD)
    cast.hal.person.save()
    ten_metres = CandidateList.objects.create(
        group=cast.group, name="Ten metres", currency="USD", budget=40_000
    )
    return [
        Candidate.objects.create(list=ten_metres, name=f"Boat {n}", added_by=cast.ben.person)
        for n in range(BOATS)
    ]


@pytest.fixture
def gauge(generated, cast, boats, live_server, tmp_path):
    """Runs the program over a network with these steps, in a process that has none of our code."""
    behind = (live_server.thread.host, live_server.thread.port)

    def run(steps):
        with dropping(behind, steps) as network:
            done = subprocess.run(
                [
                    *(sys.executable, "-P", HERE / "gauge.py"),
                    *(network.address, cast.hal.person.email, tmp_path / "journal.json"),
                ],
                cwd=tmp_path,
                env={"PYTHONPATH": str(generated), "HARDSTAND_PASSWORD": PASSWORD, "PATH": ""},
                capture_output=True,
                text=True,
                timeout=120,
                check=False,
            )
        return done, network.seen

    return run


def test_the_client_has_every_operation(generated):
    made = {path.stem for path in (generated / "hardstand_client" / "api").glob("*/*.py")}
    assert operations().keys() <= made


@pytest.mark.django_db(transaction=True)
def test_a_days_findings_end_up_there_exactly_once(gauge, boats):
    # The readings are noted; of the first batch the answer is lost, and then the signal is gone.
    reading = 4 + BOATS  # sign-in, groups, lists, boats, and a checklist for each
    first, _ = gauge(chain(repeat(THROUGH, reading), [AFTER], repeat(BEFORE)))
    assert first.returncode != 0
    assert "no answer" in first.stderr
    assert Submission.objects.count() == 3, "it got there, though the program does not know"

    # In the evening it is tried again, over a network that drops three requests of four.
    second, seen = gauge(cycle([BEFORE, AFTER, DURING, THROUGH]))
    assert second.returncode == 0, second.stderr
    assert min(seen.values()) >= 2, "every kind of loss took place"
    answers = json.loads(second.stdout)
    assert len(answers) == BOATS
    assert set(answers.values()) == {200}, "each got there by a request whose answer was lost"
    assert_each_is_there_once(answers, boats)

    # And the day after, by mistake, all of it once more.
    third, _ = gauge(repeat(THROUGH))
    assert json.loads(third.stdout) == answers
    assert_each_is_there_once(answers, boats)


def assert_each_is_there_once(answers, boats):
    stored = Submission.objects.select_related("viewing")
    assert {str(submission.pk) for submission in stored} == answers.keys()
    assert sorted(s.viewing.candidate_id for s in stored) == sorted(boat.pk for boat in boats)
    assert Viewing.objects.count() == BOATS
    for submission in stored:
        measured = submission.findings.values_list("checkpoint", "measured_value")
        assert len(measured) >= 5
        assert all(value is not None for _, value in measured)
        assert submission.observed_at == submission.viewing.starts_at
