"""Failed tries to log in. Kept in the database, so that a restart forgets none."""

from django.db import models


class FailedLogin(models.Model):
    """One failed try. Deleted when its time is past or its person came in."""

    name_key = models.CharField(max_length=200)
    address = models.CharField(max_length=45)
    at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["name_key", "at"], name="failed_logins_by_name"),
            models.Index(fields=["address", "at"], name="failed_logins_by_address"),
        ]

    def __str__(self) -> str:
        return f"{self.name_key} from {self.address}"
