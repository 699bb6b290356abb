from django.urls import path

from apps.archives.api import views

urlpatterns = [
    path("groups/<id:group_id>/exports", views.GroupExportsView.as_view()),
    path("people/me/exports", views.OwnExportsView.as_view()),
    path("exports/<id:export_id>", views.ExportView.as_view()),
    path("imports", views.ArchiveImportsView.as_view()),
    path("imports/<id:import_id>", views.ImportView.as_view()),
    path("people/me/deletions", views.DeletionsView.as_view()),
]
