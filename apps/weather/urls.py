from django.urls import path

from apps.weather import views, views_history, views_readings

app_name = "weather"
urlpatterns = [
    path("", views.outlook, name="outlook"),
    path("refresh/", views.refresh, name="refresh"),
    path("readings/", views_readings.readings, name="readings"),
    path("readings/import/", views_readings.import_hours, name="import_hours"),
    path("readings/api/", views_readings.readings_api, name="readings_api"),
    path("readings/thermometers/", views_readings.add_thermometer, name="add_thermometer"),
    path(
        "readings/thermometers/<int:pk>/stop/",
        views_readings.stop_thermometer,
        name="stop_thermometer",
    ),
    path("readings/offset/<int:pk>/", views_readings.use_offset, name="use_offset"),
    path("history/", views_history.history, name="history"),
    path("history/fetch/", views_history.fetch_history, name="fetch_history"),
]
