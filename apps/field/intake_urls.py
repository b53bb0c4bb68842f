"""What the phone asks and sends, by script alone."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
