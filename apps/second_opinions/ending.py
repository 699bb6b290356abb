"""Ends access to a boat. The request's row is changed first, as everywhere."""

from django.utils import timezone

from apps.second_opinions.models import Assignment, SecondOpinionRequest
from apps.viewings.event_records import record_event
from apps.viewings.models import Submission, Viewing
from apps.viewings.submitting import draft_delete


def request_again(request: SecondOpinionRequest) -> None:
    """Reopen a request without its assignee; on a yard day it ends."""
    waits = request.yard_day_id is None
    request.state = (
        SecondOpinionRequest.State.WAITING if waits else SecondOpinionRequest.State.DECLINED
    )
    request.save_changes(fields=["state"])


def assignment_end(
    assignment: Assignment, ending: str, *, expected_version: int | None = None
) -> None:
    """End the assignee's access to the boat at once.

    Submitted findings stay with the group. Drafts are deleted with their pictures, because nobody
    could read them any more. A planned visit is called off.
    """
    assignment.ended_at, assignment.ending = timezone.now(), ending
    assignment.save_changes(expected_version=expected_version, fields=["ended_at", "ending"])
    viewing = assignment.viewing
    if viewing is None:
        return
    # Findings that arrived meanwhile mark the visit as made.
    viewing.refresh_from_db(fields=["state", "version"])
    for draft in viewing.submissions.filter(
        author=assignment.person_id, state=Submission.State.DRAFT
    ).order_by("pk"):
        draft_delete(draft)
    if viewing.state == Viewing.State.PLANNED:
        viewing.state = Viewing.State.CALLED_OFF
        viewing.save_changes(fields=["state"])
        record_event("viewing.changed", viewing, viewing.candidate, None)
