"""The invented scenario fits the catalogue, and the people in it get a board they can read."""

from pathlib import Path

import pytest
from django.conf import settings

from apps.boats.vocabulary import HullMaterial, Keel
from apps.catalogue.applicability import applies
from apps.catalogue.reading import read_catalogue
from apps.viewings.models import REASONS
from server.demo.scenario import Scenario, findings_of, read_scenario

FIXTURES = Path(settings.BASE_DIR) / "fixtures"


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return read_scenario(FIXTURES / "demo")


def submissions(scenario: Scenario):
    for boat in scenario.boats.values():
        for viewing in boat["viewings"]:
            for submission in viewing["submissions"]:
                yield boat, submission


def test_the_story_fits_the_catalogue(scenario):
    catalogue = read_catalogue(FIXTURES / "catalogue")
    for boat, submission in submissions(scenario):
        findings = list(findings_of(submission))
        for finding in findings:
            checkpoint = catalogue.checkpoints[finding["checkpoint"]]
            if finding["kind"] == "looked":
                assert applies(checkpoint, boat["candidate"]), (boat["candidate"]["name"], finding)
            assert finding.get("reason", "frost") in REASONS
            assert set(finding.get("tags", ())) <= set(checkpoint.tags), finding
        seen = [finding["checkpoint"] for finding in findings]
        assert len(seen) == len(set(seen)), (boat["candidate"]["name"], submission["by"])
    assert set(scenario.list["brief"]["own_remedies"]) <= catalogue.remedies.keys()


def test_the_story_is_rich_enough(scenario):
    """What the demo is meant to show is there to be shown."""
    boats = [boat["candidate"] for boat in scenario.boats.values()]
    assert len(boats) >= 9
    assert len({boat["place"]["yard"] for boat in boats}) == 2
    assert {boat["hull_material"] for boat in boats} >= {
        HullMaterial.GRP, HullMaterial.CORED_GRP, HullMaterial.STEEL, HullMaterial.ALUMINIUM,
        HullMaterial.WOOD,
    }  # fmt: skip
    assert {boat["keel"] for boat in boats} == set(Keel.values)
    assert len({boat["asking"]["currency"] for boat in boats}) == 2
    said = [submission for _, submission in submissions(scenario)]
    assert len(said) >= 16
    assert {submission["by"] for submission in said} == {p["key"] for p in scenario.people}
    assert any("supersedes" in submission for submission in said)
    assert any(submission.get("capacity") == "professional" for submission in said)
    reasons = {reason for submission in said for reason in submission.get("could_not_look", ())}
    assert reasons >= {"covered", "mast_elsewhere", "engine_winterised", "batteries_off"}
