"""Records each step of a request in its log and in the group's feed."""

from apps.accounts.models import Person
from apps.second_opinions.models import SecondOpinionRequest, Step
from apps.viewings.event_records import record_event

# The kinds of events of the group's feed.
EVENTS = {
    Step.Kind.ASKED: "second_opinion_request.asked",
    Step.Kind.OFFERED: "second_opinion_request.offered",
    Step.Kind.TAKEN: "second_opinion_request.taken",
    Step.Kind.DECLINED: "second_opinion_request.declined",
    Step.Kind.VISIT: "second_opinion_request.visit_planned",
    Step.Kind.SUBMITTED: "second_opinion_request.submitted",
    Step.Kind.HANDED_BACK: "second_opinion_request.handed_back",
    Step.Kind.ANSWERED: "second_opinion_request.answered",
    Step.Kind.ENDED: "second_opinion_request.access_ended",
    Step.Kind.LAPSED: "second_opinion_request.access_lapsed",
    Step.Kind.WITHDRAWN: "second_opinion_request.withdrawn",
}


def step_note(
    request: SecondOpinionRequest,
    kind: Step.Kind,
    *,
    by: Person | None,
    whom: Person | None = None,
    words: str = "",
) -> None:
    """Record a step. Call it last in its transaction, because it records an event."""
    if stays_unknown(request, kind):
        by = None
    step = Step(request=request, kind=kind, by=by, whom=whom, words=words)
    step.save(force_insert=True)
    record_event(EVENTS[kind], request, request.candidate, by, state=request.state)


def stays_unknown(request: SecondOpinionRequest, kind: Step.Kind) -> bool:
    """Whether to hide the person: who goes to a yard stays unknown until they take a boat."""
    day = request.yard_day
    return day is not None and kind == Step.Kind.DECLINED and not day.says_who
