from django.urls import path

from apps.field import views

app_name = "field"
urlpatterns = [
    path("check/", views.check, name="check"),
    path("check/<uuid:uuid>/", views.saved, name="saved"),
    path("check/<uuid:uuid>/undo/", views.undo, name="undo"),
    path("check/<uuid:uuid>/reading/", views.reading_after, name="reading_after"),
]
