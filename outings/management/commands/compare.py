"""The judgement of gear for scripts: `compare --operator Q1ABC --by arrangement --json`."""

import dataclasses
import json

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError

from equipment import numerals, progress
from outings.forms.evidence import EvidenceFilter
from outings.forms.performance import FAMILIES
from outings.queries import comparison, observing
from outings.templatetags import judgements, times


class Command(BaseCommand):
    help = (
        "Which gear of one operator works, like held to like: a verdict, adjusted figures with 95 % intervals beside "
        "raw ones, and what would settle what the data cannot tell."
    )

    def add_arguments(self, parser):
        parser.add_argument("--operator", required=True, help="call sign of the account")
        parser.add_argument("--by", default="arrangement", choices=list(observing.WAYS), help="what is compared")
        parser.add_argument("--measure", default="", choices=list(comparison.MEASURES), help="by which measure")
        parser.add_argument(
            "--hold", action="append", default=[], choices=observing.HOLDABLE, help="also hold this fixed; repeatable"
        )
        parser.add_argument("--since", default="", help="first UTC day, YYYY-MM-DD")
        parser.add_argument("--until", default="", help="last UTC day, YYYY-MM-DD")
        parser.add_argument("--band", default="", help="one band, such as 20m")
        parser.add_argument("--family", default="", choices=[key for key, _ in FAMILIES if key], help="kind of mode")
        parser.add_argument("--recorded", action="store_true", help="leave out hours inferred from imported logs")
        parser.add_argument("--json", action="store_true", help="print JSON, unrounded")

    def handle(self, *args, operator, **options):
        account = get_user_model().objects.filter(call_sign=operator.strip().upper()).first()
        if account is None:
            raise CommandError(f"There is no account with the call sign {operator}.")
        asked = {name: options[name] for name in ("by", "measure", "hold", "since", "until", "band", "family")}
        chosen = EvidenceFilter(asked | {"hours": "recorded" if options["recorded"] else ""}, account)
        if not chosen.is_valid():
            raise CommandError(" ".join(
                f"--{name}: {' '.join(errors)}" for name, errors in chosen.errors.items()
            ))
        with numerals.decimals_after(numerals.POINT if options["json"] else account.decimal_sign):
            self.tell(chosen, options)

    def tell(self, chosen, options):
        with progress.on_terminal(wanted=not options["json"]), progress.step("Comparing"):
            found = chosen.judged()
        if options["json"]:
            head = {"by": chosen.by_key, "measure": chosen.measure_key}
            self.stdout.write(json.dumps(head | dataclasses.asdict(found), indent=2, ensure_ascii=False))
        else:
            self.print_table(found, comparison.MEASURES[chosen.measure_key].of(found))

    def print_table(self, found, measure):
        self.stdout.write(found.verdict)
        raw = f"raw {measure.unit}"
        heads = ("", "adjusted", "95 % interval", "best", raw, "95 % interval", "n", "on air", "stints")
        rows = [heads]
        for line in found.lines:
            shows = found.compares and (line.is_told or line.is_reference)
            rows.append(tuple(text.replace("\u00a0", " ") for text in (
                line.label, judgements.effect(line, measure) if shows else "-",
                judgements.effect_interval(line, measure) or ("reference" if line.is_reference else "cannot be told"),
                judgements.chance(line.chance_best) or "-", judgements.raw_value(line) or "-",
                judgements.raw_interval(line) or "-", str(line.contacts), times.hours(line.on_air_h), str(line.stints),
            )))
        widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
        for row in rows if found.lines else ():
            self.stdout.write("  ".join(
                text.ljust(width) if column == 0 else text.rjust(width)
                for column, (text, width) in enumerate(zip(row, widths, strict=True))
            ).rstrip())
        if found.held_fixed:
            self.stdout.write(f"Held fixed: {', '.join(found.held_fixed)}.")
        for text in found.next:
            self.stdout.write(text.replace("\u00a0", " "))
