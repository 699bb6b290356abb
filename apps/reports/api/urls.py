from django.urls import path

from apps.reports.api import agreement_views, views

urlpatterns = [
    path("lists/<id:list_id>/decision-brief.html", views.DecisionBriefPageView.as_view()),
    path("lists/<id:list_id>/decision-brief.pdf", views.DecisionBriefPaperView.as_view()),
    path("viewings/<id:viewing_id>/day-sheet.html", views.ViewingSheetPageView.as_view()),
    path("viewings/<id:viewing_id>/day-sheet.pdf", views.ViewingSheetPaperView.as_view()),
    path("trips/<id:trip_id>/day-sheet.html", views.TripSheetPageView.as_view()),
    path("trips/<id:trip_id>/day-sheet.pdf", views.TripSheetPaperView.as_view()),
    path("groups/<id:group_id>/agreement.html", agreement_views.AgreementPrintView.as_view()),
    path("groups/<id:group_id>/agreement.pdf", agreement_views.AgreementPaperView.as_view()),
]
