
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('exchange', '0001_start'),
    ]

    operations = [
        migrations.AddField(
            model_name='groupclock',
            name='forgotten',
            field=models.PositiveBigIntegerField(default=0, help_text='events up to this number are not kept any more'),
        ),
    ]
