import django.db.models.functions.text
import django.db.models.lookups
from django.db import migrations, models
from django.db.models import F, Q


class Migration(migrations.Migration):
    dependencies = [
        ("weather", "0006_series_index"),
    ]

    operations = [
        migrations.AddField(
            model_name="hourlyseries",
            name="packed_wind_kmh",
            field=models.BinaryField(null=True),
        ),
        migrations.AddConstraint(
            model_name="hourlyseries",
            constraint=models.CheckConstraint(
                condition=Q(packed_wind_kmh__isnull=True)
                | Q(
                    django.db.models.lookups.Exact(
                        django.db.models.functions.text.Length("packed_wind_kmh"),
                        F("hours") * 4,
                    )
                ),
                name="hourly_series_wind_packed_whole",
            ),
        ),
    ]
