"""The phone's pages, all of them one shell that opens without signal."""

from django.urls import path

from apps.field import phone_views as views

urlpatterns = [
    path("", views.shell, name="phone"),
    path("check/", views.shell, name="phone_check"),
    path("tally/", views.shell, name="phone_tally"),
    path("pull/", views.shell, name="phone_pull"),
    path("dip/", views.shell, name="phone_dip"),
    path("gauge/", views.shell, name="phone_gauge"),
    path("obstruction/", views.shell, name="phone_obstruction"),
    path("note/", views.shell, name="phone_note"),
    path("outbox/", views.shell, name="phone_outbox"),
    # What the tag on a valve says: a plain link, read by any camera. A label may hold a slash.
    path("line/<slug:woodlot>/<path:label>/", views.shell, name="phone_line"),
    path("worker.js", views.worker, name="worker"),
    path("manifest.webmanifest", views.manifest, name="manifest"),
]
