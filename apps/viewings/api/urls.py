from django.urls import path

from apps.viewings.api import (
    batch_views,
    gate_document_views,
    media_views,
    seller_photo_views,
    settling_views,
    submission_views,
    views,
)

urlpatterns = [
    path("candidates/<id:candidate_id>/viewings", views.ViewingsView.as_view()),
    path("viewings/<id:viewing_id>", views.ViewingView.as_view()),
    path(
        "viewings/<id:viewing_id>/submissions",
        submission_views.ViewingSubmissionsView.as_view(),
    ),
    path(
        "candidates/<id:candidate_id>/submissions",
        submission_views.CandidateSubmissionsView.as_view(),
    ),
    path("groups/<id:group_id>/submission-batches", batch_views.SubmissionBatchesView.as_view()),
    path("submissions/<id:submission_id>", submission_views.SubmissionView.as_view()),
    path("submissions/<id:submission_id>/photos", media_views.SubmissionPhotosView.as_view()),
    path("submissions/<id:submission_id>/sounds", media_views.SubmissionSoundsView.as_view()),
    path("viewings/<id:viewing_id>/photos", media_views.ViewingPhotosView.as_view()),
    path("candidates/<id:candidate_id>/photos", media_views.CandidatePhotosView.as_view()),
    path("candidates/<id:candidate_id>/sounds", media_views.CandidateSoundsView.as_view()),
    path(
        "candidates/<id:candidate_id>/seller-photos", seller_photo_views.SellerPhotosView.as_view()
    ),
    path("seller-photos/<id:seller_photo_id>", seller_photo_views.SellerPhotoView.as_view()),
    path(
        "candidates/<id:candidate_id>/gate-documents",
        gate_document_views.GateDocumentsView.as_view(),
    ),
    path("gate-documents/<id:gate_document_id>", gate_document_views.GateDocumentView.as_view()),
    path("photos/<id:photo_id>", media_views.PhotoView.as_view()),
    path("sounds/<id:sound_id>", media_views.SoundView.as_view()),
    path("candidates/<id:candidate_id>/follow-ups", settling_views.FollowUpsView.as_view()),
    path("follow-ups/<id:follow_up_id>", settling_views.FollowUpView.as_view()),
    path("candidates/<id:candidate_id>/clearances", settling_views.ClearancesView.as_view()),
    path("clearances/<id:clearance_id>", settling_views.ClearanceView.as_view()),
]
