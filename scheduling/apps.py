from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    name = "scheduling"
    default_auto_field = "django.db.models.BigAutoField"
