from django.urls import path

from apps.reports.api import views

urlpatterns = [
    path("lists/<uuid:list_id>/decision-brief.html", views.DecisionBriefPageView.as_view()),
    path("lists/<uuid:list_id>/decision-brief.pdf", views.DecisionBriefPaperView.as_view()),
    path("viewings/<uuid:viewing_id>/day-sheet.html", views.ViewingSheetPageView.as_view()),
    path("viewings/<uuid:viewing_id>/day-sheet.pdf", views.ViewingSheetPaperView.as_view()),
    path("trips/<uuid:trip_id>/day-sheet.html", views.TripSheetPageView.as_view()),
    path("trips/<uuid:trip_id>/day-sheet.pdf", views.TripSheetPaperView.as_view()),
]
