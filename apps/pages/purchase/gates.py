"""What to settle before a boat is bought, with the documents that show it."""

from collections import defaultdict
from dataclasses import dataclass

from apps.accounts.models import Person
from apps.boats.gates.kinds import GateKind
from apps.boats.gates.models import Gate
from apps.boats.gates.selectors import gates_of
from apps.boats.models import Candidate
from apps.surveys.models import SurveyReport
from apps.surveys.selectors import survey_report_of
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.links import link
from apps.viewings.media.models import Media
from apps.viewings.media.selectors import gate_documents_visible

SURVEY = "survey"


@dataclass(frozen=True)
class Paper:
    """A document, without links until it was read, or if it cannot be. A PDF has no thumbnail."""

    document: GateDocument
    title: str
    file: str
    thumbnail: str
    removable: bool


@dataclass(frozen=True)
class ShownGate:
    """report: one that may settle it, for somebody to say so; None once it is settled."""

    kind: GateKind
    gate: Gate | None
    papers: list[Paper]
    report: SurveyReport | None


def gates_shown(person: Person, candidate: Candidate, manages: bool) -> list[ShownGate]:
    """Every gate of a boat. Three queries. manages: whether they may remove any document."""
    papers: dict[str, list[Paper]] = defaultdict(list)
    for one in gate_documents_visible(person).filter(candidate=candidate).order_by("pk"):
        papers[one.gate].append(_paper(one, person, manages))
    report = survey_report_of(candidate)
    return [
        ShownGate(
            one.kind,
            one.gate,
            papers[one.kind.code],
            report if one.kind.code == SURVEY and not (one.gate and one.gate.settled) else None,
        )
        for one in gates_of(candidate)
    ]


def _paper(document: GateDocument, person: Person, manages: bool) -> Paper:
    ready = document.state == Media.State.READY
    is_pdf = document.kept_as == GateDocument.KeptAs.PDF
    return Paper(
        document,
        document.note or "Document",
        link(document, document.kept_as, person) if ready else "",
        link(document, "thumbnail", person) if ready and not is_pdf else "",
        manages or document.added_by_id == person.pk,
    )
