from django.apps import AppConfig


class TappingConfig(AppConfig):
    name = "apps.tapping"
