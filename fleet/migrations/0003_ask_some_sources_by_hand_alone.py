from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0002_keep_builds_rounds_stock_and_losses'),
    ]

    operations = [
        migrations.AddField(
            model_name='telematicssource',
            name='asked_daily',
            field=models.BooleanField(default=True),
        ),
    ]
