from django.urls import path

from apps.memory.api import views

urlpatterns = [
    path("clubs/<id:club_id>/memory", views.MemoryView.as_view()),
    path("clubs/<id:club_id>/memory.html", views.MemoryPageView.as_view()),
    path("clubs/<id:club_id>/memory.svg", views.MemorySvgView.as_view()),
]
