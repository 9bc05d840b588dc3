import django.db.models.deletion
from django.db import migrations, models


COLUMNS = ("outing", "arrangement", "item", "kit", "site", "note")


def of_one(model):
    return models.ForeignKey(
        null=True, on_delete=django.db.models.deletion.CASCADE, related_name="shared_pages", to=model
    )


class Migration(migrations.Migration):

    dependencies = [("equipment", "0001_first_release"), ("outings", "0001_first_release")]

    operations = [
        migrations.RenameModel("SharedReport", "SharedPage"),
        migrations.AlterField("sharedpage", "outing", of_one("outings.outing")),
        migrations.AddField("sharedpage", "arrangement", of_one("equipment.arrangement")),
        migrations.AddField("sharedpage", "item", of_one("equipment.item")),
        migrations.AddField("sharedpage", "kit", of_one("equipment.kit")),
        migrations.AddField("sharedpage", "site", of_one("outings.site")),
        migrations.AddField("sharedpage", "note", of_one("outings.note")),
        migrations.AddField("sharedpage", "position", models.CharField(
            choices=[
                ("grid_4", "four characters of the grid, a square of 1° by 2°"),
                ("grid_6", "six characters of the grid, a square of 2.5′ by 5′"),
                ("exact", "coordinates, as well as they are known"),
            ],
            default="grid_6", max_length=6,
        )),
        migrations.AddField("sharedpage", "opened", models.PositiveIntegerField(default=0, editable=False)),
        migrations.AddField(
            "sharedpage", "opened_at", models.DateTimeField(blank=True, editable=False, null=True)
        ),
        migrations.AddConstraint("sharedpage", models.CheckConstraint(
            name="shows_one_thing",
            condition=models.Q(
                *(
                    models.Q(**{f"{other}__isnull": other != column for other in COLUMNS})
                    for column in COLUMNS
                ),
                _connector="OR",
            ),
        )),
    ]
