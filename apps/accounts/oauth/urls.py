"""The needed addresses of the library only, without its pages for registering programs."""

from django.urls import path

from apps.accounts.oauth import views

app_name = "oauth2_provider"  # the library uses this name

urlpatterns = [
    path("authorize", views.ConsentView.as_view(), name="authorize"),
    path("token", views.ProgramTokenView.as_view(), name="token"),
    path("revoke", views.ProgramRevokeView.as_view(), name="revoke-token"),
    path("sign-in", views.OAuthSignInView.as_view(), name="sign-in"),
    path("signed-in", views.SignedInView.as_view(), name="signed-in"),
    path("sign-out", views.OAuthSignOutView.as_view(), name="sign-out"),
]
