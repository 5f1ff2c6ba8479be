import fleet.models.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('assemblies', '0004_keep_small_parts_apart'),
        ('fleet', '0002_keep_builds_rounds_stock_and_losses'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='stay',
            name='from_corrected_h',
            field=fleet.models.fields.ScaledField(blank=True, high=10000000, low=0, null=True, places=1),
        ),
        migrations.AddField(
            model_name='stay',
            name='to_corrected_h',
            field=fleet.models.fields.ScaledField(blank=True, high=10000000, low=0, null=True, places=1),
        ),
        migrations.AddConstraint(
            model_name='stay',
            constraint=models.CheckConstraint(condition=models.Q(('is_open', False), models.Q(('from_corrected_h__isnull', True), ('to_corrected_h__isnull', True)), _connector='OR'), name='hours_beside_an_ended_stay'),
        ),
    ]
