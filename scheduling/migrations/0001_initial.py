import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('yard', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='Pin',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='yard.yard')),
                ('stage', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pins', to='yard.stage')),
                ('bay', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='yard.bay')),
                ('first_day', models.DateField(blank=True, null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('why', models.CharField(blank=True, max_length=200)),
                ('lifted_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'constraints': [models.UniqueConstraint(condition=models.Q(('lifted_at__isnull', True)), fields=('stage',), name='one_pin_in_force_a_stage', violation_error_message='The stage is pinned already; lift that pin first.'), models.CheckConstraint(condition=models.Q(('bay__isnull', False), ('first_day__isnull', False), _connector='OR'), name='a_pin_names_a_bay_or_a_day', violation_error_message='A pin needs a bay or a day.')],
            },
        ),
        migrations.CreateModel(
            name='Beat',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=40, unique=True)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='Plan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='yard.yard')),
                ('season', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='plans', to='yard.season')),
                ('number', models.PositiveIntegerField()),
                ('parent', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='children', to='scheduling.plan')),
                ('made_by', models.CharField(choices=[('pack', 'Pack'), ('hand', 'Hand'), ('undo', 'Undo'), ('repair', 'Repair')], max_length=6)),
                ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('made_at', models.DateTimeField()),
                ('why', models.CharField(blank=True, max_length=200)),
                ('cost', models.JSONField(default=dict)),
                ('bound', models.BigIntegerField(blank=True, null=True)),
                ('kept', models.JSONField(default=dict)),
                ('late_days', models.PositiveIntegerField(default=0)),
                ('late_boats', models.PositiveIntegerField(default=0)),
                ('engine_version', models.CharField(blank=True, max_length=40)),
                ('problem_sha256', models.CharField(blank=True, max_length=64)),
                ('digest', models.CharField(blank=True, max_length=64)),
                ('posted_at', models.DateTimeField(blank=True, null=True)),
                ('posted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('replaced_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['season', 'number'],
                'constraints': [models.CheckConstraint(condition=models.Q(('made_by__in', ['pack', 'hand', 'undo', 'repair'])), name='plan_made_by_is_a_known_word', violation_error_message='Choose one of these for made_by: pack, hand, undo, repair.'), models.UniqueConstraint(fields=('season', 'number'), name='one_plan_of_a_number_a_season', violation_error_message='That number is taken; try again.'), models.UniqueConstraint(condition=models.Q(('posted_at__isnull', False), ('replaced_at__isnull', True)), fields=('season',), name='one_posted_plan_a_season', violation_error_message='Another plan is posted; it must be replaced first.'), models.CheckConstraint(condition=models.Q(('replaced_at__isnull', True), ('posted_at__isnull', False), _connector='OR'), name='only_a_posted_plan_is_replaced', violation_error_message='Only a posted plan can be replaced.')],
            },
        ),
        migrations.CreateModel(
            name='Board',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('season', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='board', to='yard.season')),
                ('posted', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='scheduling.plan')),
                ('draft', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='scheduling.plan')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='Placement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='placements', to='scheduling.plan')),
                ('stage', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='yard.stage')),
                ('part', models.PositiveSmallIntegerField(default=0)),
                ('label', models.CharField(blank=True, max_length=60)),
                ('bay', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='yard.bay')),
                ('regime', models.CharField(blank=True, choices=[('weather', 'Weather'), ('cold', 'Cold'), ('tent', 'Tent')], max_length=7)),
                ('first_day', models.DateField()),
                ('last_day', models.DateField()),
                ('leaves_on', models.DateField()),
            ],
            options={
                'ordering': ['plan', 'first_day', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('regime__in', ['weather', 'cold', 'tent', ''])), name='placement_regime_is_a_known_word', violation_error_message='Choose one of these for regime: weather, cold, tent.'), models.UniqueConstraint(fields=('plan', 'stage', 'part'), name='a_part_of_a_stage_once_a_plan', violation_error_message='That stage is placed twice.'), models.CheckConstraint(condition=models.Q(('last_day__gte', models.F('first_day'))), name='placement_last_day_is_not_before_first_day', violation_error_message='Last day must not come before first day.'), models.CheckConstraint(condition=models.Q(('leaves_on__gt', models.F('last_day'))), name='she_leaves_after_the_last_day_of_work', violation_error_message='She leaves the bay after her last day of work there.')],
            },
        ),
        migrations.CreateModel(
            name='Unplaced',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='unplaced', to='scheduling.plan')),
                ('treatment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='yard.treatment')),
                ('rule', models.CharField(max_length=40)),
                ('says', models.TextField()),
                ('detail', models.JSONField(default=dict)),
            ],
            options={
                'verbose_name_plural': 'unplaced',
                'constraints': [models.UniqueConstraint(fields=('plan', 'treatment'), name='a_boat_left_out_once_a_plan', violation_error_message='She is left out twice.')],
            },
        ),
        migrations.CreateModel(
            name='Pack',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='yard.yard')),
                ('season', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='packs', to='yard.season')),
                ('state', models.CharField(choices=[('queued', 'Queued'), ('working', 'Working'), ('done', 'Done'), ('failed', 'Failed'), ('stopped', 'Stopped')], default='queued', max_length=7)),
                ('asked_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('asked_at', models.DateTimeField()),
                ('start_from', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='scheduling.plan')),
                ('seconds', models.PositiveIntegerField()),
                ('work', models.PositiveIntegerField(blank=True, null=True)),
                ('seed', models.PositiveIntegerField(default=1)),
                ('problem', models.JSONField(blank=True, null=True)),
                ('problem_sha256', models.CharField(blank=True, max_length=64)),
                ('refs', models.JSONField(blank=True, null=True)),
                ('phase', models.CharField(blank=True, max_length=40)),
                ('progress', models.JSONField(blank=True, default=dict)),
                ('best_cost', models.BigIntegerField(blank=True, null=True)),
                ('bound', models.BigIntegerField(blank=True, null=True)),
                ('tries', models.PositiveSmallIntegerField(default=0)),
                ('token', models.UUIDField(blank=True, null=True)),
                ('lease_until', models.DateTimeField(blank=True, null=True)),
                ('beat_at', models.DateTimeField(blank=True, null=True)),
                ('stop_asked_at', models.DateTimeField(blank=True, null=True)),
                ('reason', models.TextField(blank=True)),
                ('finished_at', models.DateTimeField(blank=True, null=True)),
                ('plan', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='scheduling.plan')),
            ],
            options={
                'ordering': ['-asked_at'],
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['queued', 'working', 'done', 'failed', 'stopped'])), name='pack_state_is_a_known_word', violation_error_message='Choose one of these for state: queued, working, done, failed, stopped.'), models.UniqueConstraint(condition=models.Q(('state__in', ('queued', 'working'))), fields=('season',), name='one_open_pack_a_season', violation_error_message='The packer is at work on this season already.'), models.CheckConstraint(condition=models.Q(models.Q(('plan__isnull', False), ('state', 'done')), ('state', 'stopped'), models.Q(models.Q(('state', 'done'), _negated=True), ('plan__isnull', True)), _connector='OR'), name='a_done_pack_has_a_plan', violation_error_message='A pack is done when its plan is stored; only one that was stopped may have a plan too.'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'failed'), _negated=True), models.Q(('reason', ''), _negated=True), _connector='OR'), name='a_failed_pack_says_why', violation_error_message='A pack that fails says why.'), models.CheckConstraint(condition=models.Q(('tries__gte', 0), ('tries__lte', 3)), name='pack_tries_is_in_range', violation_error_message='Tries must be between 0 and 3.'), models.CheckConstraint(condition=models.Q(('seconds__gt', 0)), name='pack_seconds_is_above_zero', violation_error_message='Seconds must be more than 0.')],
            },
        ),
        migrations.AddField(
            model_name='plan',
            name='pack',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='scheduling.pack'),
        ),
    ]
