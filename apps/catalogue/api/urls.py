from django.urls import path

from apps.catalogue.api import views

urlpatterns = [
    path("checkpoints", views.CheckpointsView.as_view()),
    path("checkpoints/<slug:code>", views.CheckpointView.as_view()),
    path("remedies", views.RemediesView.as_view()),
    path("remedies/<slug:code>", views.RemedyView.as_view()),
    path("cautions", views.CautionsView.as_view()),
    path("scales", views.ScalesView.as_view()),
]
