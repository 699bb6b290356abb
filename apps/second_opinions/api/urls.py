from django.urls import path

from apps.second_opinions.api import assignment_finding_views as finding_views
from apps.second_opinions.api import (
    assignment_views,
    queue_views,
    request_views,
    yard_day_views,
)

ASSIGNMENT = "assignments/<id:assignment_id>"
SUBMISSION = f"{ASSIGNMENT}/submissions/<id:submission_id>"

urlpatterns = [
    # the group that asks
    path(
        "candidates/<id:candidate_id>/second-opinion-requests",
        request_views.CandidateSecondOpinionRequestsView.as_view(),
    ),
    path(
        "groups/<id:group_id>/second-opinion-requests",
        request_views.GroupSecondOpinionRequestsView.as_view(),
    ),
    path(
        "second-opinion-requests/<id:request_id>", request_views.SecondOpinionRequestView.as_view()
    ),
    path(
        "second-opinion-requests/<id:request_id>/steps",
        request_views.SecondOpinionRequestStepsView.as_view(),
    ),
    path(
        "second-opinion-requests/<id:request_id>/assignment",
        request_views.SecondOpinionRequestAssignmentView.as_view(),
    ),
    # the queue
    path(
        "clubs/<id:club_id>/second-opinion-settings", queue_views.ClubOpinionSettingsView.as_view()
    ),
    path("clubs/<id:club_id>/second-opinion-workload", queue_views.WorkloadView.as_view()),
    path("clubs/<id:club_id>/second-opinion-queue", queue_views.QueueView.as_view()),
    path(
        "second-opinion-queue/<id:request_id>/assignments",
        queue_views.QueuedAssignmentsView.as_view(),
    ),
    path("second-opinion-queue/<id:request_id>/declines", queue_views.QueuedDeclinesView.as_view()),
    path("second-opinion-queue/<id:request_id>/offers", queue_views.QueuedOffersView.as_view()),
    # assignments
    path("assignments", assignment_views.AssignmentsView.as_view()),
    path(ASSIGNMENT, assignment_views.AssignmentView.as_view()),
    path(f"{ASSIGNMENT}/candidate", assignment_views.AssignmentCandidateView.as_view()),
    path(f"{ASSIGNMENT}/checklist", assignment_views.AssignmentChecklistView.as_view()),
    path(f"{ASSIGNMENT}/visit", assignment_views.AssignmentVisitView.as_view()),
    path(f"{ASSIGNMENT}/submissions", finding_views.AssignmentSubmissionsView.as_view()),
    path(SUBMISSION, finding_views.AssignmentSubmissionView.as_view()),
    path(f"{SUBMISSION}/photos", finding_views.AssignmentPhotosView.as_view()),
    path(f"{ASSIGNMENT}/photos/<id:photo_id>", finding_views.AssignmentPhotoView.as_view()),
    path(f"{ASSIGNMENT}/answers", assignment_views.AssignmentAnswersView.as_view()),
    path(f"{ASSIGNMENT}/hand-backs", assignment_views.AssignmentHandBacksView.as_view()),
    # yard days
    path(
        "groups/<id:group_id>/second-opinion-settings",
        yard_day_views.GroupOpinionSettingsView.as_view(),
    ),
    path("viewings/<id:viewing_id>/yard-day", yard_day_views.ViewingYardDayView.as_view()),
    path("clubs/<id:club_id>/yard-days", yard_day_views.ClubYardDaysView.as_view()),
    path("yard-days/<id:yard_day_id>", yard_day_views.YardDayView.as_view()),
    path("yard-days/<id:yard_day_id>/requests", yard_day_views.YardDayRequestsView.as_view()),
    path(
        "yard-days/<id:yard_day_id>/second-opinion-queue",
        yard_day_views.YardDayQueueView.as_view(),
    ),
]
