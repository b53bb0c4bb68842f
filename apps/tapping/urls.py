from django.urls import URLPattern

app_name = "tapping"
urlpatterns: list[URLPattern] = []
