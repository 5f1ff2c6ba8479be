from django.db import migrations
from django.utils import timezone


def begin_anew(apps, schema_editor):
    """Dues now say of what kind they are and are counted as they change: the next sweep, or
    `manage.py refresh_dues`, writes all of them again."""
    due, mark = apps.get_model("scheduling", "Due"), apps.get_model("scheduling", "StaleMark")
    if not due.objects.exists():
        return
    due.objects.all().delete()
    found, made = mark.objects.get_or_create(
        subject="everything", subject_id=0, defaults={"since_at": timezone.now()}
    )
    if not made:
        found.generation += 1
        found.save(update_fields=["generation"])


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0002_keep_builds_rounds_stock_and_losses")]

    operations = [migrations.RunPython(begin_anew, migrations.RunPython.noop)]
