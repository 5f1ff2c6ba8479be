from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("assemblies", "0003_fill_the_keys_of_small_parts")]

    operations = [
        migrations.AddConstraint(
            model_name='stockitem',
            constraint=models.UniqueConstraint(condition=models.Q(('name_key', ''), _negated=True), fields=('site', 'name_key'), name='small_part_once_at_a_site'),
        ),
    ]
