from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def forget_longer_walks(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """A walk of over a day is a slip; without one the usual walk of the settings stands."""
    lines = apps.get_model("woods", "Line").objects.using(schema_editor.connection.alias)
    lines.filter(walk_minutes__gt=1440).update(walk_minutes=None)


class Migration(migrations.Migration):
    dependencies = [
        ("woods", "0002_lease_terms_present"),
    ]

    operations = [
        migrations.RunPython(forget_longer_walks, migrations.RunPython.noop),
        migrations.RemoveConstraint(model_name="line", name="line_walk_positive"),
        migrations.AddConstraint(
            model_name="line",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("walk_minutes__isnull", True),
                    models.Q(("walk_minutes__gt", 0), ("walk_minutes__lte", 1440)),
                    _connector="OR",
                ),
                name="line_walk_within_a_day",
            ),
        ),
    ]
