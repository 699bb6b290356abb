from django.urls import path

from apps.outcomes.api import views

urlpatterns = [
    path("clubs/<id:club_id>/outcomes", views.OutcomesView.as_view()),
    path("clubs/<id:club_id>/outcomes.html", views.OutcomesPageView.as_view()),
    path("clubs/<id:club_id>/outcomes.svg", views.OutcomesSvgView.as_view()),
]
