"""One line per room of the house."""

from django.urls import include, path

urlpatterns = [
    path("", include("apps.today.urls")),
    path("outlook/", include("apps.outlook.urls")),
    path("weather/", include("apps.weather.urls")),
    path("tapping/", include("apps.tapping.urls")),
    path("leaks/", include("apps.leaks.urls")),
    path("", include("apps.field.urls")),
    path("sugarhouse/", include("apps.sugarhouse.urls")),
    path("season/", include("apps.season.urls")),
    path("woods/", include("apps.woods.urls")),
    path("records/", include("apps.records.urls")),
    path("demo/", include("apps.demo.urls")),
    path("", include("apps.operation.urls")),
]
