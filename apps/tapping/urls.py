from django.urls import path

from apps.tapping import views

app_name = "tapping"
urlpatterns = [
    path("", views.progress, name="progress"),
    path("lines/<int:pk>/", views.tally, name="tally"),
    path("tallies/<int:pk>/void/", views.void, name="void"),
    path("pulls/", views.pulls, name="pulls"),
    path("pulls/<int:pk>/void/", views.void_pull, name="void_pull"),
    path("first-runs/", views.first_runs, name="first_runs"),
    path("first-runs/<int:pk>/remove/", views.remove_first_run, name="remove_first_run"),
]
