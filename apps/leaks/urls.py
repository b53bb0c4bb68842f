from django.urls import URLPattern

app_name = "leaks"
urlpatterns: list[URLPattern] = []
