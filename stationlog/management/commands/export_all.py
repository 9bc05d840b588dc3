"""Writes everything in open formats."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from equipment import progress
from stationlog.backups import archive, openly


class Command(BaseCommand):
    help = "Write everything to a zip in open formats: ADIF, CSV, JSON, original files. import_all takes it in."

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)

    @progress.on_terminal()
    def handle(self, *, file, **options):
        try:
            contents = openly.export_all(file, timezone.now())
        except (OSError, archive.Damaged) as error:
            raise CommandError(f"{file} was not written: {getattr(error, 'strerror', None) or error}.") from None
        self.stdout.write(f"{file}: {contents.total} rows in {len(contents.files)} files, whole.")
