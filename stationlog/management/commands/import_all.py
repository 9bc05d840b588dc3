"""Takes in everything that export_all wrote, on either database."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from equipment import progress
from stationlog.backups import archive, openly


class Command(BaseCommand):
    help = "Take everything that export_all wrote into an empty installation, on SQLite or PostgreSQL."

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)

    @progress.on_terminal()
    def handle(self, *, file, **options):
        try:
            contents = openly.import_all(file)
        except openly.NotEmpty:
            raise CommandError(
                "There are accounts here already; nothing was changed. Take the file into another data folder "
                "(STATIONLOG_DATA) or database (DATABASE_URL)."
            ) from None
        except (OSError, archive.Damaged) as error:
            said = getattr(error, "strerror", None) or error
            raise CommandError(f"{file} cannot be taken in: {said}. Nothing was changed.") from None
        self.stdout.write(f"{contents.total} rows are in; everybody logs in with the password as before.")
