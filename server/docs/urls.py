from django.urls import path

from server.docs import views

urlpatterns = [
    path("", views.index, name="docs"),
    path("saturday", views.on_saturday, name="docs-saturday"),
    path("guide/<slug:slug>", views.guide_page, name="docs-guide"),
    path("operating/<slug:slug>", views.operating_page, name="docs-operating"),
    path("problems", views.problems, name="docs-problems"),
    path("access", views.access, name="docs-access"),
    path("api", views.api, name="docs-api"),
]
