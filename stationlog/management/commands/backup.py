"""Makes a backup of everything while the program runs."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from equipment import progress
from stationlog.backups import archive, shelf


class Command(BaseCommand):
    help = "Make a backup of everything, read it back, and take away old ones that it makes superfluous."

    def add_arguments(self, parser):
        parser.add_argument("--to", type=Path, metavar="FILE", help="write it there, and leave the shelf alone")
        parser.add_argument("--if-due", action="store_true", help="only if the newest is a day old (for a timer)")
        parser.add_argument("--keys", type=Path, metavar="FILE", help="write the keys there, which no backup holds")

    @progress.on_terminal()
    def handle(self, *, to, if_due, keys, **options):
        now = timezone.now()
        try:
            if keys:
                self.stdout.write(f"{keys}: {', '.join(archive.make_keys(keys))}. Keep it apart from the backups.")
                return
            if to:
                path, contents = to, archive.make(to, now)
            elif made := shelf.put_new_if_due(now) if if_due else shelf.put_new(now):
                path, contents = made[0].path, made[1]
            else:
                return
        except (OSError, archive.Damaged) as error:
            said = getattr(error, "strerror", None) or error
            raise CommandError(f"No backup was made: {said}. Older ones are still there.") from None
        held = f"{contents.total} rows, {contents.pictures} pictures and files"
        self.stdout.write(f"{path}: {held}, read back and whole.")
