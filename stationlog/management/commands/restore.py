"""Brings a backup back."""

import sys
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from equipment import progress
from stationlog.backups import archive, restoring


class Command(BaseCommand):
    help = "Replace everything by what is in a backup; what it replaces is kept."
    requires_system_checks = ()

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)
        parser.add_argument("--check", action="store_true", help="only look whether it could be brought back")
        parser.add_argument("--yes", action="store_true", help="do not ask")

    @progress.on_terminal()
    def handle(self, *, file, check, yes, **options):
        try:
            contents = restoring.check(file)
            self.stdout.write(
                f"{file} is whole: made {contents.made_at[:16].replace('T', ' ')} UTC, "
                f"{contents.rows.get('outings.contact', 0)} contacts, {contents.pictures} pictures and files."
            )
            if check:
                return
            if not yes and not self.agreed():
                raise CommandError("Nothing was replaced.")
            restored = restoring.restore(file)
        except archive.Damaged as error:
            raise CommandError(f"{file} cannot be brought back: {error}. Nothing was replaced.") from None
        except OSError as error:
            said = error.strerror or error
            raise CommandError(f"{file} cannot be brought back ({said}). Nothing was replaced.") from None
        self.stdout.write("It is back; everybody has to log in again.")
        self.stdout.write("What phones handed in since it was made, they hand in once more by themselves.")
        for path in restored.replaced:
            self.stdout.write(f"What it replaced is kept in {path}")

    def agreed(self):
        if not sys.stdin.isatty():
            raise CommandError("Say --yes to replace everything that is there now.")
        return input("Replace everything that is there now by it? Type yes: ").strip().lower() == "yes"
