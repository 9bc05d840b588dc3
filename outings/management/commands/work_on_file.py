"""Carry on with an uploaded log; the pages start this in a process of its own."""

from django.core.management.base import BaseCommand

from outings.intake import work
from outings.models import ImportedFile


class Command(BaseCommand):
    help = "Carry on with an uploaded log (started by the program itself)."

    def add_arguments(self, parser):
        parser.add_argument("pk", type=int)

    def handle(self, *, pk, **options):
        work.carry_on(ImportedFile.objects.select_related("owner").get(pk=pk))
