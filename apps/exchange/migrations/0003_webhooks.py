
import django.db.models.deletion
import uuid_utils.compat
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('exchange', '0002_forgotten_events'),
    ]

    operations = [
        migrations.CreateModel(
            name='Delivery',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, editable=False, primary_key=True, serialize=False)),
                ('kind', models.CharField(max_length=60)),
                ('body', models.TextField(help_text='JSON, sent as it is at every attempt')),
                ('state', models.CharField(choices=[('waiting', 'to be sent, or sent again'), ('delivered', 'the receiver took it'), ('failed', 'given up; can be resent')], default='waiting', max_length=10)),
                ('tries', models.PositiveSmallIntegerField(default=0, help_text='of the schedule, all failed')),
                ('due_at', models.DateTimeField(null=True)),
                ('delivered_at', models.DateTimeField(null=True)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
            ],
            options={
                'verbose_name_plural': 'deliveries',
            },
        ),
        migrations.CreateModel(
            name='Attempt',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('status', models.PositiveSmallIntegerField(help_text='of the answer, if there is one', null=True)),
                ('error', models.CharField(blank=True, help_text='why there was none', max_length=30)),
                ('seconds', models.FloatField()),
                ('delivery', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='attempts', to='exchange.delivery')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Webhook',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, editable=False, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('group', models.UUIDField(db_index=True)),
                ('url', models.CharField(max_length=500)),
                ('note', models.CharField(blank=True, help_text='what it is for', max_length=200)),
                ('kinds', models.JSONField(default=list, help_text='of event; none named: all that there are')),
                ('enabled', models.BooleanField(default=True)),
                ('stopped_because', models.CharField(blank=True, choices=[('by_hand', 'by an organiser'), ('gone', 'the receiver answered that it wants no more (410)'), ('no_answer', 'nothing got through for as long as a message is tried')], max_length=10)),
                ('secret', models.TextField(help_text='sealed')),
                ('old_secret', models.TextField(blank=True, help_text='sealed; signs too for a while')),
                ('old_secret_until', models.DateTimeField(blank=True, null=True)),
                ('last_success_at', models.DateTimeField(blank=True, null=True)),
                ('failures', models.PositiveSmallIntegerField(default=0, help_text='in a row')),
                ('resting_until', models.DateTimeField(blank=True, null=True)),
                ('leased_by', models.UUIDField(blank=True, null=True)),
                ('leased_until', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('enabled', True), ('stopped_because', '')), models.Q(('enabled', False), models.Q(('stopped_because', ''), _negated=True)), _connector='OR'), name='stopped_webhook_says_why'), models.CheckConstraint(condition=models.Q(models.Q(('old_secret', ''), ('old_secret_until', None)), models.Q(models.Q(('old_secret', ''), _negated=True), models.Q(('old_secret_until', None), _negated=True)), _connector='OR'), name='old_secret_ends_some_time')],
            },
        ),
        migrations.AddField(
            model_name='delivery',
            name='webhook',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='deliveries', to='exchange.webhook'),
        ),
        migrations.AddIndex(
            model_name='delivery',
            index=models.Index(condition=models.Q(('state', 'waiting')), fields=['webhook', 'due_at'], name='deliveries_due'),
        ),
        migrations.AddConstraint(
            model_name='delivery',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'waiting'), models.Q(('due_at', None), _negated=True)), models.Q(models.Q(('state', 'waiting'), _negated=True), ('due_at', None)), _connector='OR'), name='only_waiting_deliveries_are_due'),
        ),
        migrations.AddConstraint(
            model_name='delivery',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'delivered'), _negated=True), models.Q(('delivered_at', None), _negated=True), _connector='OR'), name='delivered_says_when'),
        ),
    ]
