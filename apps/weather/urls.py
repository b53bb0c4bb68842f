from django.urls import URLPattern

app_name = "weather"
urlpatterns: list[URLPattern] = []
