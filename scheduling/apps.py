from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    name = "scheduling"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from scheduling.actions import register_inspections
        from scheduling.queries import alarms, reel_ages

        register_inspections.keep_them()
        alarms.tell_them()
        reel_ages.keep_them()
