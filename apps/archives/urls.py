from django.urls import path

from apps.archives import views

urlpatterns = [
    path("exports/<str:token>", views.download, name="archive-download"),
    path("imports/<str:token>", views.upload, name="archive-upload"),
]
