"""An import taken back whole."""

from django.db import transaction
from django.db.models import Exists, F, OuterRef
from django.utils import timezone

from equipment import progress
from equipment.models import CannotTakeBack, Change
from equipment.models.history import chunks
from outings.models import Contact, ImportedFile, Outing, Site, Stint

from .importing import CannotImport


@transaction.atomic
def undo(imported):
    """Take an import back whole: what it made is withdrawn, what it changed is as before.

    Raises CannotImport where contacts that it had changed were changed again since.
    """
    now, actor = timezone.now(), imported.owner
    ours = ImportedFile.objects.select_for_update().filter(pk=imported.pk, status=ImportedFile.Status.IMPORTED)
    if not ours.exists():
        raise CannotImport("This import is not in the log.")
    try:
        Change.objects.of(actor).filter(batch=imported.uuid).take_back(actor, cause="import undone")
    except CannotTakeBack as conflict:
        raise CannotTakeBackImport(conflict) from None
    gone = {"deleted_at": now, "changed_at": now}
    rows = Contact.objects.of(actor).filter(imported_by=imported)
    contacts = bulk_withdraw(rows, gone, "Taking contacts out of the log")
    stints = Stint.objects.of(actor).filter(~Exists(Contact.objects.filter(stint=OuterRef("pk"))), imported_by=imported)
    stints = bulk_withdraw(stints, gone, "Taking stints out of the log")
    empty = Outing.objects.of(actor).filter(
        ~Exists(Contact.objects.filter(outing=OuterRef("pk"))), ~Exists(Stint.objects.filter(outing=OuterRef("pk"))),
        imported_by=imported,
    )
    outings = bulk_withdraw(empty, gone, "Taking outings out of the log")
    for site in Site.objects.of(actor).filter(pk__in=imported.summary.get("made_sites", [])):
        if not Outing.objects.filter(site=site).exists():
            site.retire(now.date())
    imported.status, imported.finished_at = ImportedFile.Status.UNDONE, now
    imported.summary = {**imported.summary, "undone": {"contacts": contacts, "stints": stints, "outings": outings}}
    imported.save(update_fields=["status", "finished_at", "summary"])
    return imported.summary["undone"]


class CannotTakeBackImport(CannotImport):
    """Contacts that the import had changed were changed again since."""

    def __init__(self, conflict):
        names = sorted({found.row for found in conflict.conflicts})
        listed = ", ".join(names[:5]) + (" and others" if len(names) > 5 else "")
        super().__init__(
            f"{len(names)} of the contacts that this import changed were changed again since: {listed}. "
            "Take those changes back first."
        )


def bulk_withdraw(rows, gone, words):
    """Withdraw rows, many with a statement, and tell it; the import itself says what happened to them."""
    pks, withdrawn = list(rows.order_by("pk").values_list("pk", flat=True)), 0
    with progress.step(words, len(pks)) as did:
        for part in chunks(pks):
            withdrawn += rows.model.objects.filter(pk__in=part).update(revision=F("revision") + 1, **gone)
            did(len(part))
    return withdrawn
