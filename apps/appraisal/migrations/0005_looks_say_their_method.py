from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def as_the_board(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Until now both were taken to come from one method and one edition."""
    appraisals = apps.get_model("appraisal", "ListAppraisal")._default_manager
    appraisals.update(looks_method=models.F("method"), looks_edition=models.F("edition"))


class Migration(migrations.Migration):
    dependencies = [("appraisal", "0004_results_by_opinions_seen")]

    operations = [
        migrations.AddField(
            model_name="listappraisal",
            name="looks_edition",
            field=models.PositiveIntegerField(default=0, help_text="as `edition`"),
        ),
        migrations.AddField(
            model_name="listappraisal",
            name="looks_method",
            field=models.CharField(blank=True, default="", help_text="as `method`", max_length=40),
            preserve_default=False,
        ),
        migrations.RunPython(as_the_board, migrations.RunPython.noop),
    ]
