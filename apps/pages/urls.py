"""Addresses are nouns and can be shared: they show the same to whoever may see it."""

from django.urls import path

from apps.pages import home, signing

app_name = "pages"

urlpatterns = [
    path("", home.HomeView.as_view(), name="home"),
    path("sign-in", signing.SignInView.as_view(), name="sign-in"),
    path("sign-out", signing.SignOutView.as_view(), name="sign-out"),
]
