"""The raw figures of the performance page for scripts: `performance --operator Q1ABC --by arrangement --json`."""

import dataclasses
import json

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError

from equipment import numerals, progress
from equipment.templatetags import units
from outings.forms.performance import FAMILIES, PerformanceFilter
from outings.queries import performance
from outings.templatetags import evidence, times


class Command(BaseCommand):
    help = (
        "Hours on the air, contacts, rates and distances of one operator, raw: they do not compare like with like. "
        "Intervals are exact 95 % intervals of a count and assume that contacts come independently of each other."
    )

    def add_arguments(self, parser):
        parser.add_argument("--operator", required=True, help="call sign of the account")
        parser.add_argument("--by", default="arrangement", choices=list(performance.DIMENSIONS), help="grouped by what")
        parser.add_argument("--since", default="", help="first UTC day, YYYY-MM-DD")
        parser.add_argument("--until", default="", help="last UTC day, YYYY-MM-DD")
        parser.add_argument("--band", default="", help="one band, such as 20m")
        parser.add_argument("--family", default="", choices=[key for key, _ in FAMILIES if key], help="kind of mode")
        parser.add_argument("--recorded", action="store_true", help="leave out hours inferred from imported logs")
        parser.add_argument("--json", action="store_true", help="print JSON, unrounded, in SI units")

    def handle(self, *args, operator, by, since, until, band, family, recorded, **options):
        account = get_user_model().objects.filter(call_sign=operator.strip().upper()).first()
        if account is None:
            raise CommandError(f"There is no account with the call sign {operator}.")
        chosen = PerformanceFilter(
            {
                "by": by, "since": since, "until": until, "band": band, "family": family,
                "hours": "recorded" if recorded else "",
            },
            account,
        )
        if not chosen.is_valid():
            raise CommandError(" ".join(
                f"--{name}: {' '.join(errors)}" for name, errors in chosen.errors.items()
            ))
        with progress.on_terminal(wanted=not options["json"]), progress.step("Adding up"):
            found = performance.performance(account, chosen.stints(), by)
        if options["json"]:
            self.stdout.write(json.dumps(as_json(found), indent=2, ensure_ascii=False))
        else:
            with numerals.decimals_after(account.decimal_sign):
                self.print_table(found, account.units)

    def print_table(self, found, system):
        name = evidence.distance_unit(system)
        heads = (
            "", "on air", "stints", "contacts", "per hour", "95 % interval", f"median {name}", "95 % interval", "n",
        )
        rows = [heads]
        for group in (*found.groups, found.total):
            rows.append(tuple(text.replace(units.NBSP, " ") for text in (
                group.label, times.hours(group.on_air_h), str(group.stints), str(group.contacts),
                evidence.rate_value(group.rate) or "-", evidence.rate_interval(group.rate) or "-",
                evidence.quantile_value(group.median, system) or "-",
                evidence.quantile_interval(group.median, system) or "-", str(group.with_position),
            )))
        widths = [max(len(row[column]) for row in rows) for column in range(len(heads))]
        for row in rows:
            self.stdout.write("  ".join(
                text.ljust(width) if column == 0 else text.rjust(width)
                for column, (text, width) in enumerate(zip(row, widths, strict=True))
            ).rstrip())
        self.stdout.write("Raw figures: they do not compare like with like.")


def as_json(found):
    """The figures as plain values; quantiles, rates and the farthest contact as objects, null where there is none."""

    def plain(group):
        figures = dataclasses.asdict(group)
        del figures["ordered_km"]
        return figures | {"without_position": group.without_position}

    return {
        "by": found.by, "raw": True, "groups": [plain(group) for group in found.groups], "total": plain(found.total),
        "contacts_in_no_stint": found.stintless,
    }
