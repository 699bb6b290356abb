from django.urls import path

from apps.notifications import views
from apps.notifications.mail.links import CONFIRM, UNSUBSCRIBE

urlpatterns = [
    path("unsubscribe/<str:token>", views.unsubscribe, name=UNSUBSCRIBE),
    path("confirm/<str:token>", views.confirm, name=CONFIRM),
]
