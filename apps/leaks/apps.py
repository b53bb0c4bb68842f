from django.apps import AppConfig


class LeaksConfig(AppConfig):
    name = "apps.leaks"
