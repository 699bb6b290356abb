from django.urls import path

from apps.records.api import views

urlpatterns = [
    path("candidates/<id:candidate_id>/record", views.RecordView.as_view()),
    path("candidates/<id:candidate_id>/record.json", views.RecordDocumentView.as_view()),
    path("candidates/<id:candidate_id>/record.csv", views.RecordTableView.as_view()),
]
