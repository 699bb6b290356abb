from django.urls import path

from apps.notices import views
from apps.notices.links import CONFIRM, UNSUBSCRIBE

urlpatterns = [
    path("unsubscribe/<str:token>", views.unsubscribe, name=UNSUBSCRIBE),
    path("confirm/<str:token>", views.confirm, name=CONFIRM),
]
