"""The desk's pages about the woods: a form that needs no script, and what belongs to the phones."""

from django.urls import path

from apps.field import views

urlpatterns = [
    path("new/", views.check, name="check"),
    path("<uuid:uuid>/", views.saved, name="saved"),
    path("<uuid:uuid>/undo/", views.undo, name="undo"),
    path("<uuid:uuid>/reading/", views.reading_after, name="reading_after"),
]
