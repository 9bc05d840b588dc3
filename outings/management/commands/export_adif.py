"""Write a log as ADIF from the command line."""

from pathlib import Path

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError

from equipment import progress
from outings.models import Outing
from outings.queries import adif_files


class Command(BaseCommand):
    help = "Write an operator's contacts as an ADI or ADX file, to standard output unless --to names a file."

    def add_arguments(self, parser):
        parser.add_argument("--operator", required=True, metavar="CALL", help="whose log")
        parser.add_argument("--outing", type=int, help="only this outing")
        parser.add_argument("--adx", action="store_true", help="write ADX, which keeps letters beyond ASCII")
        parser.add_argument("--to", type=Path, metavar="FILE", help="write into this file")

    @progress.on_terminal()
    def handle(self, *, operator, outing, adx, to, **options):
        try:
            owner = get_user_model().objects.get_by_natural_key(operator)
        except get_user_model().DoesNotExist:
            raise CommandError(f"There is no operator {operator}.") from None
        if outing and not Outing.objects.of(owner).filter(pk=outing).exists():
            raise CommandError(f"{operator} has no outing {outing}.")
        file = adif_files.Handover(adif_files.contacts_of(owner, outing), "adx" if adx else "adi")
        if to:
            with Path(to).open("w", encoding="utf-8", newline="") as out:
                out.writelines(file.pieces())
        else:
            for piece in file.pieces():
                self.stdout.write(piece, ending="")
        for found in file.conversions:
            self.stderr.write(f"{found.field}: {found.count} values in their nearest ASCII, such as {found.written!r}")
