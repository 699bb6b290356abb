"""The record of a request: every step in its log, and in the group's feed."""

from apps.accounts.models import Person
from apps.desk.models import LookRequest, Step
from apps.viewings.telling import tell


def step_note(
    request: LookRequest,
    kind: str,
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
    tell(f"look_request.{kind}", request, request.candidate, by, state=request.state)


def stays_unknown(request: LookRequest, kind: str) -> bool:
    """Who goes to a yard is nobody's business until they take somebody's boat on."""
    day = request.yard_day
    return day is not None and kind == Step.Kind.DECLINED and not day.says_who
