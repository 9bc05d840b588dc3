"""Carry on with an uploaded log; the pages start this in a process of its own."""

from django.core.management.base import BaseCommand

from equipment import progress
from outings import waiting
from outings.intake import work
from outings.models import ImportedFile


class Command(BaseCommand):
    help = "Carry on with an uploaded log (started by the program itself)."

    def add_arguments(self, parser):
        parser.add_argument("pk", type=int)

    def handle(self, *, pk, **options):
        imported = ImportedFile.objects.select_related("owner").get(pk=pk)
        note = waiting.Note(imported.uuid.hex)  # which can be written while the database stores contacts
        with progress.heard_by(note):
            work.carry_on(imported)
        note.forget()
