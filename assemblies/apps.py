from django.apps import AppConfig


class AssembliesConfig(AppConfig):
    name = "assemblies"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from assemblies import receivers  # noqa: F401  # importing connects them
        from assemblies.queries import page_subjects, releases

        page_subjects.lead_there()
        releases.tell_them()
