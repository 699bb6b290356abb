from django.urls import path

from apps.reports.api import views

urlpatterns = [
    path("lists/<uuid:list_id>/decision-brief.html", views.DecisionBriefPageView.as_view()),
    path("lists/<uuid:list_id>/decision-brief.pdf", views.DecisionBriefPaperView.as_view()),
]
