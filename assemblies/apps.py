from django.apps import AppConfig


class AssembliesConfig(AppConfig):
    name = "assemblies"
    default_auto_field = "django.db.models.BigAutoField"
