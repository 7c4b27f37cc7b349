from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('yard', '0003_tide_allowance'),
    ]

    operations = [
        migrations.AddField(
            model_name='stoppage',
            name='called_off_on',
            field=models.DateField(blank=True, null=True),
        ),
    ]
