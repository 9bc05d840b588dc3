"""Loads the demo scenario into a log, or takes it out again."""

import datetime
import secrets

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from equipment import progress
from outings.demo import loading
from stationlog.models import DEMO_CALL, Operator


class Command(BaseCommand):
    help = "Load the demo scenario (an invented year of outings) into a log, or take it out again."

    def add_arguments(self, parser):
        parser.add_argument(
            "--operator", metavar="CALL", help=f"whose log; without it, that of {DEMO_CALL}, made if need be"
        )
        parser.add_argument("--remove", action="store_true", help="take the demo scenario out, and nothing else")
        parser.add_argument(
            "--today", metavar="YYYY-MM-DD", type=datetime.date.fromisoformat, help="the day that its year ends at"
        )

    @progress.on_terminal()
    def handle(self, *, operator=None, remove=False, today=None, **options):
        account = self.account(operator or DEMO_CALL)
        if remove:
            self.remove(account, operator or DEMO_CALL)
            return
        if account is None and operator:
            raise CommandError(f"There is no account {operator}.")
        if account is None:
            account = self.own_account()
        elif not operator and loading.is_loaded(account):
            self.stdout.write(f"The demo scenario is in the log of {DEMO_CALL} already.")
            return
        try:
            loading.load(account, today or timezone.now().date())
        except loading.DemoError as error:
            raise CommandError(
                f"{error} To take it out: manage.py demo --remove --operator {account.call_sign}"
            ) from error
        self.stdout.write(f"The demo scenario is in the log of {account.call_sign}.")

    def account(self, call_sign):
        return Operator.objects.filter(call_sign=Operator.objects.normalised(call_sign)).first()

    def own_account(self):
        """An account for looking around, which manages no others."""
        password = secrets.token_urlsafe(12)
        account = Operator.objects.create_user(DEMO_CALL, password, name="Demo Operator", home_grid="JO52")
        self.stdout.write(
            f"Log in as {DEMO_CALL} with the password {password}\n"
            f"It is shown only now; manage.py changepassword {DEMO_CALL} sets another one."
        )
        return account

    def remove(self, account, call_sign):
        if account is None:
            raise CommandError(f"There is no account {call_sign}.")
        try:
            stayed = loading.remove(account)
        except loading.DemoError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"The demo scenario is out of the log of {account.call_sign}.")
        for row in stayed:
            self.stdout.write(f"Kept, because your own rows use it: {row}")
