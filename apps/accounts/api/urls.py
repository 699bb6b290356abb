from django.urls import path

from apps.accounts.api import views

urlpatterns = [
    path("sessions", views.SessionsView.as_view()),
    path("sessions/<uuid:token_id>", views.SessionView.as_view()),
    path("people/me", views.MeView.as_view()),
]
