"""What the phone asks and sends, by script alone."""

from django.urls import path

from apps.field import intake_views as views

urlpatterns = [
    path("data.json", views.data, name="data"),
    path("whoami.json", views.whoami, name="whoami"),
    path("records/", views.records, name="records"),
]
