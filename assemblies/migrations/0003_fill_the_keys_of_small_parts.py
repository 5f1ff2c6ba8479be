from django.db import migrations

from fleet.calc.keys import text_key


def fill(apps, schema_editor):
    """Give each small part its key; one that stands twice at a site is told apart by a number."""
    items = apps.get_model("assemblies", "StockItem").objects.exclude(name="").order_by("pk")
    taken = set()
    for item in items.iterator():
        name, number = item.name, 1
        while (item.site_id, text_key(name)) in taken:
            number += 1
            name = f"{item.name[:110]} ({number})"
        taken.add((item.site_id, text_key(name)))
        item.name = name
        item.save(update_fields=["name", "name_key"])


class Migration(migrations.Migration):
    dependencies = [("assemblies", "0002_keep_builds_rounds_stock_and_losses")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
