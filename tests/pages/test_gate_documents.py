"""Documents of what to settle before a boat is bought, on her page."""

import re

import pytest
from django.utils import timezone

from apps.surveys.models import Survey
from apps.surveys.reporting import EnteredReport, ReportedFinding, survey_report_enter
from apps.viewings.media.document_models import GateDocument
from tests.pages.browser import Browser, forms_in
from tests.pages.conftest import EVIL
from tests.pages.test_every_page import queries_of
from tests.viewings.media import paper, picture, sent_gate_document


@pytest.fixture
def at(scene) -> str:
    return f"/boats/{scene.heron.pk}"


def section_of(who, at: str) -> str:
    page = Browser(who).get(at).content.decode()
    return page[page.index('<h2 id="gates">') :].partition("</section>")[0]


def test_they_stand_with_what_they_show(scene, at):
    for note, file in ((f"Extract {EVIL}", picture()), ("Bill of sale", paper())):
        sent_gate_document(scene.cast.ben, scene.heron.pk, {"note": note, "file": file})
    shown = section_of(scene.cast.ivy, at)
    assert "nobody has said anything yet; 2 documents" in shown
    assert "Bill of sale (PDF)</a>" in shown
    assert "Extract &lt;b" in shown
    assert EVIL not in shown
    links = re.findall(r'href="(/media/gate_documents/[^"]+)"', shown)
    assert [Browser().client.get(one).status_code for one in links] == [200, 200]


def test_what_is_being_read_or_cannot_be_is_said(scene, at):
    sent = {"file": picture(), "gate": "title"}
    scene.cast.ben.send_form(f"/candidates/{scene.heron.pk}/gate-documents", sent)
    assert "is being read" in section_of(scene.cast.ivy, at)
    GateDocument.objects.update(state="rejected", fault="damaged")
    assert "could not be read. The file is damaged." in section_of(scene.cast.ivy, at)


def test_the_forms_are_for_those_who_may(scene, at):
    sent_gate_document(scene.cast.ben, scene.heron.pk)
    for name, forms in {
        "ben": {"PUT", "POST", "DELETE"},
        "ola": {"PUT", "POST", "DELETE"},
        "bea": {"PUT", "POST"},
        "hal": set(),
        "ivy": set(),
    }.items():
        section = section_of(getattr(scene.cast, name), at)
        assert {method for method, _, _ in forms_in(section)} == forms, name
        fields = re.findall(r' id="(field-[^"]+)"', section)
        assert len(fields) == len(set(fields)), "each field has a name of its own for its label"


def test_more_of_them_cost_no_more_queries(scene, at):
    ben = Browser(scene.cast.ben)
    sent_gate_document(scene.cast.ben, scene.heron.pk)
    ben.get(at)
    few = queries_of(ben, at)
    for gate in ("debts", "title", "tax"):
        sent_gate_document(scene.cast.bea, scene.heron.pk, {"gate": gate})
    assert queries_of(ben, at) == few


def report_entered(scene, kind="hull"):
    by = scene.cast.ben.person
    survey = Survey.objects.create(
        candidate=scene.heron, kind=kind, surveyor="A. Surveyor", commissioned_by=by
    )
    content = EnteredReport("Report 12 of 3 March", timezone.now(), [ReportedFinding(words="Fair")])
    survey_report_enter(survey=survey, by=by, content=content)


def test_a_report_of_a_survey_proposes_that_its_gate_is_settled(scene, at):
    report_entered(scene, "rig")
    assert "A report is entered" not in section_of(scene.cast.ben, at)
    gate = f"/candidates/{scene.heron.pk}/gates/survey"
    scene.cast.ben.put(gate, {"note": "Ask for the moisture readings"})
    report_entered(scene)
    shown = section_of(scene.cast.ben, at)
    assert "Report 12 of 3 March, by A. Surveyor." in shown
    assert "All of us read it: it is settled" in shown
    assert scene.cast.ben.get(gate).json()["settled"] is False, "only a person settles it"
    assert "All of us read it" not in section_of(scene.cast.ivy, at)
    said = {"settled": True, "checked_by": "A. Surveyor", "document": "Report 12 of 3 March"}
    assert scene.cast.ben.change("PUT", gate, said).status_code == 200
    assert "A report is entered" not in section_of(scene.cast.ben, at)
