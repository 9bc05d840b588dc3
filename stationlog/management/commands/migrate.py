"""Brings the database up to date, as `start` does it by itself: a backup first, all steps or none."""

import contextlib
import time

from django.core.management.base import CommandError
from django.core.management.commands import migrate
from django.db import DEFAULT_DB_ALIAS

from equipment import progress
from stationlog.backups import updating


class Command(migrate.Command):
    help = "Bring the database up to date; of one that somebody uses, a backup is made before."

    @progress.on_terminal()
    def handle(self, *args, **options):
        def go(steps=0, announced=False):
            self.steps, self.number, self.announced = steps, 0, announced
            with contextlib.ExitStack() as self.bar:
                migrate.Command.handle(self, *args, **options)

        if options["plan"] or options["check_unapplied"] or options["database"] != DEFAULT_DB_ALIAS:
            return go()
        try:
            updating.bring_up_to_date(go, self.say)
        except updating.NotUpdated as error:
            raise CommandError(str(error)) from error

    def say(self, line):
        self.stdout.write(line)
        self.stdout.flush()

    def migration_progress_callback(self, action, migration=None, fake=False):
        if action == "apply_success":
            self.bar.close()
            updating.between_steps()
        if not self.announced:
            super().migration_progress_callback(action, migration, fake)
        if action == "apply_start":
            self.number, self.began = self.number + 1, time.monotonic()
            if self.announced:
                words = migration.name.partition("_")[2].replace("_", " ")
                self.say(f"Step {self.number} of {self.steps}: {migration.app_label}, {words} ...")
            if self.announced or not self.verbosity:  # else Django's own lines say how far it is
                did = self.bar.enter_context(progress.step("Bringing the database up to date", self.steps))
                did(self.number - 1)
        elif action == "apply_success" and self.announced:
            self.say(f"  done in {time.monotonic() - self.began:.1f} s")
