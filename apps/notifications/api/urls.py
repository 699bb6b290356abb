from django.urls import path

from apps.notifications.api import views

urlpatterns = [
    path("notifications", views.NotificationsView.as_view()),
    path("notifications/<id:notification_id>", views.NotificationView.as_view()),
    path("notification-marks", views.MarksView.as_view()),
    path("notification-settings", views.InboxView.as_view()),
    path("notification-confirmations", views.ConfirmationsView.as_view()),
    path("groups/<id:group_id>/notification-settings", views.GroupChoiceView.as_view()),
]
