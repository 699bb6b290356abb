from django.urls import path

from apps.catalogue.api import own_views, views

urlpatterns = [
    path("checkpoints", views.CheckpointsView.as_view()),
    path("checkpoints/<slug:code>", views.CheckpointView.as_view()),
    path("remedies", views.RemediesView.as_view()),
    path("remedies/<slug:code>", views.RemedyView.as_view()),
    path("cautions", views.CautionsView.as_view()),
    path("scales", views.ScalesView.as_view()),
]
for owner in ("club", "group"):
    at, own = f"{owner}s/<id:{owner}_id>/catalogue", own_views.under(owner)
    urlpatterns += [
        path(at, own["catalogue"].as_view()),
        path(f"{at}/editions", own["editions"].as_view()),
        path(f"{at}/diff", own["diff"].as_view()),
        path(f"{at}/<slug:kind>", own["entries"].as_view()),
        path(f"{at}/<slug:kind>/<slug:code>", own["entry"].as_view()),
    ]
