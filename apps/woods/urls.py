from django.urls import URLPattern

app_name = "woods"
urlpatterns: list[URLPattern] = []
