from django.urls import path

from apps.planning.api import views

urlpatterns = [
    path("groups/<id:group_id>/trips", views.GroupTripsView.as_view()),
    path("clubs/<id:club_id>/trips", views.ClubTripsView.as_view()),
    path("trips/<id:trip_id>", views.TripView.as_view()),
    path("trips/<id:trip_id>/plans", views.PlansView.as_view()),
    path("trips/<id:trip_id>/viewings", views.StopsView.as_view()),
    path("trips/<id:trip_id>/plan.geojson", views.MapView.as_view()),
    path("trips/<id:trip_id>/plan.ics", views.CalendarView.as_view()),
]
