"""The questions to a boat's seller that save a journey, fitted to the boat."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from apps.boats.models import Candidate
from apps.boats.particulars import YEARS
from apps.catalogue.applicability import applies
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.questions import QuestionEntry
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Catalogue
from apps.sellers.models import SellerAnswer
from apps.viewings.checklists import particulars_of

# The particulars that the answer to a checkpoint's question gives.
FILLS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "hull-number": ("build_year",),
        "engine-record": ("engine_year", "engine_hours"),
        "electric-drive": ("engine_year", "engine_hours"),
        "wire-age": ("rigging_year",),
        "rod-rigging": ("rigging_year",),
        "fibre-rigging": ("rigging_year",),
        "mainsail": ("sails_year",),
        "headsails": ("sails_year",),
    }
)
assert set(YEARS) <= {name for names in FILLS.values() for name in names}

SELLERS_WORD = (
    "A seller's word is no look. It moves what is expected of her a little, less where it is good "
    "than where it is bad, and closes no doubt. Whatever matters has to be seen, and judged by the "
    "professional named, before anybody buys."
)
OPENING = (
    "Good day, we are interested in your boat. Before we travel to see her, may we ask you a few "
    "things?"
)
CLOSING = "Short answers will do, and 'I do not know' helps us too. Thank you."


@dataclass(frozen=True)
class AskedQuestion:
    """One question; `levels` are the five descriptions of a checkpoint, empty for others."""

    code: str
    ask: str
    checkpoint: str | None = None
    title: str = ""
    why: str = ""
    fills: tuple[str, ...] = ()
    levels: tuple[str, ...] = ()
    answers: tuple[SellerAnswer, ...] = ()


@dataclass(frozen=True)
class SellerQuestions:
    """first: those that save a journey. more: what else the catalogue can ask of this boat."""

    first: tuple[AskedQuestion, ...]
    more: tuple[AskedQuestion, ...]

    @property
    def unanswered(self) -> tuple[AskedQuestion, ...]:
        return tuple(one for one in self.first if not one.answers)

    @property
    def text(self) -> str:
        """The questions of `first` that nobody answered, to send or to read out; may be empty."""
        asked = [f"{n}. {one.ask}" for n, one in enumerate(self.unanswered, start=1)]
        return "\n".join([OPENING, "", *asked, "", CLOSING]) if asked else ""


def questions_to(candidate: Candidate, answers: Iterable[SellerAnswer]) -> SellerQuestions:
    """Fitted to the boat's particulars. answers: those to her that count, oldest first.

    The catalogue's queries only.
    """
    catalogue = catalogue_snapshot(candidate.list.group_id).catalogue
    return questions_from(catalogue, particulars_of(candidate), answers)


def questions_from(
    catalogue: Catalogue, particulars: Mapping[str, str], answers: Iterable[SellerAnswer]
) -> SellerQuestions:
    by_code: dict[str, list[SellerAnswer]] = {}
    for answer in answers:
        by_code.setdefault(answer.code, []).append(answer)
    askable = [
        checkpoint
        for checkpoint in catalogue.checkpoints.values()
        if checkpoint.ask and applies(checkpoint, particulars)
    ]
    general = [
        general_question(one, by_code)
        for one in catalogue.questions.values()
        if fits(one, particulars)
    ]
    first = [one for one in askable if saves_a_journey(one)]
    rest = [one for one in askable if not saves_a_journey(one)]
    return SellerQuestions(
        first=(*general, *(question_of(one, by_code) for one in first)),
        more=tuple(question_of(one, by_code) for one in rest),
    )


def saves_a_journey(checkpoint: CheckpointEntry) -> bool:
    """What a call settles by itself, or what gives a particular."""
    return checkpoint.place == "ask" or checkpoint.code in FILLS


def fits(question: QuestionEntry, particulars: Mapping[str, str]) -> bool:
    """Whether the boat has, or may have, what it asks about."""
    return all(
        not particulars.get(name) or particulars[name] in allowed
        for name, allowed in question.applies.items()
    )


def general_question(
    one: QuestionEntry, by_code: Mapping[str, list[SellerAnswer]]
) -> AskedQuestion:
    return AskedQuestion(one.code, one.ask, why=one.why, answers=tuple(by_code.get(one.code, ())))


def question_of(one: CheckpointEntry, by_code: Mapping[str, list[SellerAnswer]]) -> AskedQuestion:
    return AskedQuestion(
        code=one.code,
        ask=one.ask,
        checkpoint=one.code,
        title=one.title,
        fills=FILLS.get(one.code, ()),
        levels=one.levels,
        answers=tuple(by_code.get(one.code, ())),
    )
