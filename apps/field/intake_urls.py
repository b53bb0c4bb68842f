"""What the phone asks and sends, by script alone."""

from django.urls import path

from apps.field import intake_views, photo_intake_views

urlpatterns = [
    path("data.json", intake_views.data, name="data"),
    path("whoami.json", intake_views.whoami, name="whoami"),
    path("records/", intake_views.records, name="records"),
    path("photos/<uuid:uuid>/", photo_intake_views.photo, name="photo_intake"),
]
