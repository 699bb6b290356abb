from django.urls import path

from apps.ownership.api import agreement_views, handover_views, season_views

urlpatterns = [
    path("groups/<id:group_id>/agreement", agreement_views.AgreementView.as_view()),
    path("groups/<id:group_id>/agreement.txt", agreement_views.AgreementTextView.as_view()),
    path("groups/<id:group_id>/agreement/<slug:topic>", agreement_views.ClauseView.as_view()),
    path(
        "groups/<id:group_id>/agreement/<slug:topic>/consents",
        agreement_views.ConsentsView.as_view(),
    ),
    path("candidates/<id:candidate_id>/handover", handover_views.HandoverView.as_view()),
    path("candidates/<id:candidate_id>/handover-items", handover_views.HandoverItemsView.as_view()),
    path(
        "candidates/<id:candidate_id>/handover-items/usual",
        handover_views.UsualItemsView.as_view(),
    ),
    path("handover-items/<id:item_id>", handover_views.HandoverItemView.as_view()),
    path("candidates/<id:candidate_id>/season", season_views.SeasonView.as_view()),
    path("candidates/<id:candidate_id>/season-settings", season_views.SeasonSettingsView.as_view()),
    path("candidates/<id:candidate_id>/work/<slug:code>", season_views.WorkDecisionView.as_view()),
]
