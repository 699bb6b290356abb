from django.urls import path

from apps.desk.api import desk_views, request_views, take_views, yard_day_views

TAKE = "takes/<id:take_id>"
SUBMISSION = f"{TAKE}/submissions/<id:submission_id>"

urlpatterns = [
    # the group that asks
    path(
        "candidates/<id:candidate_id>/look-requests",
        request_views.CandidateLookRequestsView.as_view(),
    ),
    path("groups/<id:group_id>/look-requests", request_views.GroupLookRequestsView.as_view()),
    path("look-requests/<id:request_id>", request_views.LookRequestView.as_view()),
    path("look-requests/<id:request_id>/steps", request_views.LookRequestStepsView.as_view()),
    path("look-requests/<id:request_id>/take", request_views.LookRequestTakeView.as_view()),
    # the desk
    path("clubs/<id:club_id>/desk", desk_views.ClubDeskView.as_view()),
    path("clubs/<id:club_id>/desk/workload", desk_views.WorkloadView.as_view()),
    path("clubs/<id:club_id>/asked-looks", desk_views.AskedLooksView.as_view()),
    path("asked-looks/<id:request_id>/takes", desk_views.AskedLookTakesView.as_view()),
    path("asked-looks/<id:request_id>/declines", desk_views.AskedLookDeclinesView.as_view()),
    path("asked-looks/<id:request_id>/offers", desk_views.AskedLookOffersView.as_view()),
    # whoever took a request on
    path("takes", take_views.TakesView.as_view()),
    path(TAKE, take_views.TakeView.as_view()),
    path(f"{TAKE}/candidate", take_views.TakeCandidateView.as_view()),
    path(f"{TAKE}/checklist", take_views.TakeChecklistView.as_view()),
    path(f"{TAKE}/visit", take_views.TakeVisitView.as_view()),
    path(f"{TAKE}/submissions", take_views.TakeSubmissionsView.as_view()),
    path(SUBMISSION, take_views.TakeSubmissionView.as_view()),
    path(f"{SUBMISSION}/photos", take_views.TakePhotosView.as_view()),
    path(f"{TAKE}/photos/<id:photo_id>", take_views.TakePhotoView.as_view()),
    path(f"{TAKE}/answers", take_views.TakeAnswersView.as_view()),
    path(f"{TAKE}/hand-backs", take_views.TakeHandBacksView.as_view()),
    # yard days
    path("groups/<id:group_id>/desk", yard_day_views.GroupDeskView.as_view()),
    path("viewings/<id:viewing_id>/yard-day", yard_day_views.ViewingYardDayView.as_view()),
    path("clubs/<id:club_id>/yard-days", yard_day_views.ClubYardDaysView.as_view()),
    path("yard-days/<id:yard_day_id>", yard_day_views.YardDayView.as_view()),
    path("yard-days/<id:yard_day_id>/requests", yard_day_views.YardDayRequestsView.as_view()),
    path(
        "yard-days/<id:yard_day_id>/asked-looks",
        yard_day_views.YardDayAskedLooksView.as_view(),
    ),
]
