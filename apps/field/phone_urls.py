"""The phone's pages, all of them one shell that opens without signal."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
