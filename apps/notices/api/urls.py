from django.urls import path

from apps.notices.api import views

urlpatterns = [
    path("notices", views.NoticesView.as_view()),
    path("notices/<id:notice_id>", views.NoticeView.as_view()),
    path("notice-marks", views.MarksView.as_view()),
    path("notice-settings", views.InboxView.as_view()),
    path("notice-confirmations", views.ConfirmationsView.as_view()),
    path("groups/<id:group_id>/notice-settings", views.GroupChoiceView.as_view()),
]
