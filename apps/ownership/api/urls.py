from django.urls import path

from apps.ownership.api import agreement_views

urlpatterns = [
    path("groups/<id:group_id>/agreement", agreement_views.AgreementView.as_view()),
    path("groups/<id:group_id>/agreement.txt", agreement_views.AgreementTextView.as_view()),
    path("groups/<id:group_id>/agreement/<slug:topic>", agreement_views.ClauseView.as_view()),
    path(
        "groups/<id:group_id>/agreement/<slug:topic>/consents",
        agreement_views.ConsentsView.as_view(),
    ),
]
