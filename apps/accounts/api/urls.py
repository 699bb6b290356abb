from django.urls import path

from apps.accounts.api import key_views, views

urlpatterns = [
    path("sessions", views.SessionsView.as_view()),
    path("sessions/<id:token_id>", views.SessionView.as_view()),
    path("tokens", key_views.TokensView.as_view()),
    path("tokens/<id:token_id>", key_views.TokenView.as_view()),
    path("grants", key_views.GrantsView.as_view()),
    path("grants/<id:program_id>", key_views.GrantView.as_view()),
    path("people/me", views.MeView.as_view()),
    path("people/me/password-changes", views.PasswordChangesView.as_view()),
]
