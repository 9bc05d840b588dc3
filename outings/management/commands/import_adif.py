"""Import a log file from the command line."""

import json
from pathlib import Path

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError

from equipment import progress
from outings.adif import adi
from outings.adif.records import NotADIF
from outings.intake import importing, uploads
from outings.intake.stretches import GAP_MIN
from outings.models import ImportedFile, Outing

RESULT = {
    "new": "new contacts", "known": "already in the log", "changed": "differ from the log", "updated": "updated",
    "twice": "twice in the file", "deleted": "deleted in the log, left out", "lost": "refused",
    "outings": "outings made", "sites": "sites made", "stints": "stints inferred", "joined": "joined recorded stints",
}


class Command(BaseCommand):
    help = "Import an ADI or ADX file into an operator's log, all or nothing."

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)
        parser.add_argument("--operator", required=True, metavar="CALL", help="whose log")
        parser.add_argument("--outing", type=int, help="put all contacts onto this outing (else by site and day)")
        parser.add_argument("--grid", default="", help="where the file does not say; default: the operator's home grid")
        parser.add_argument("--update", action="store_true", help="update contacts that differ from the log")
        parser.add_argument("--gap", type=float, default=GAP_MIN, help="minutes without a contact that end a stint")
        parser.add_argument("--encoding", choices=adi.ENCODINGS, default="", help="of ADI, where the guess is wrong")
        parser.add_argument("--json", action="store_true", help="print the result as JSON")

    def handle(self, *, file, operator, outing, grid, update, gap, encoding, **options):
        try:
            owner = get_user_model().objects.get_by_natural_key(operator)
        except get_user_model().DoesNotExist:
            raise CommandError(f"There is no operator {operator}.") from None
        if outing and not Outing.objects.of(owner).filter(pk=outing).exists():
            raise CommandError(f"{operator} has no outing {outing}.")
        if gap <= 0:
            raise CommandError("The gap is more than zero minutes.")
        try:
            imported = uploads.stage_path(owner, file)
        except OSError as error:
            raise CommandError(f"{file} cannot be read: {error.strerror}.") from None
        except NotADIF as error:
            raise CommandError(str(error)) from None
        imported.choices = {"outing": outing, "grid": grid or owner.home_grid, "update_changed": update, "gap_min": gap}
        imported.choices |= {"encoding": encoding} if encoding else {}
        imported.save(update_fields=["choices"])
        with progress.on_terminal(wanted=not options["json"]):
            importing.carry_out(imported)
        if imported.status != ImportedFile.Status.IMPORTED:
            raise CommandError(imported.message)
        result = {name: imported.summary["result"].get(name, 0) for name in RESULT}
        if options["json"]:
            self.stdout.write(json.dumps({"import": imported.pk, **result}))
        else:
            for name, words in RESULT.items():
                if result[name] or name == "new":
                    self.stdout.write(f"{result[name]:>8} {words}")
