"""The record of a request: every step in its log, and in the group's feed."""

from apps.accounts.models import Person
from apps.desk.models import LookRequest, Step
from apps.viewings.event_records import record_event

# What the group's feed calls them.
EVENTS = {
    Step.Kind.ASKED: "look_request.asked",
    Step.Kind.OFFERED: "look_request.offered",
    Step.Kind.TAKEN: "look_request.taken",
    Step.Kind.DECLINED: "look_request.declined",
    Step.Kind.VISIT: "look_request.visit_planned",
    Step.Kind.SUBMITTED: "look_request.submitted",
    Step.Kind.HANDED_BACK: "look_request.handed_back",
    Step.Kind.ANSWERED: "look_request.answered",
    Step.Kind.ENDED: "look_request.access_ended",
    Step.Kind.LAPSED: "look_request.access_lapsed",
    Step.Kind.WITHDRAWN: "look_request.withdrawn",
}


def step_note(
    request: LookRequest,
    kind: Step.Kind,
    *,
    by: Person | None,
    whom: Person | None = None,
    words: str = "",
) -> None:
    """Last in its transaction, as every event."""
    if stays_unknown(request, kind):
        by = None
    step = Step(request=request, kind=kind, by=by, whom=whom, words=words)
    step.save(force_insert=True)
    record_event(EVENTS[kind], request, request.candidate, by, state=request.state)


def stays_unknown(request: LookRequest, kind: Step.Kind) -> bool:
    """Who goes to a yard is nobody's business until they take somebody's boat on."""
    day = request.yard_day
    return day is not None and kind == Step.Kind.DECLINED and not day.says_who
