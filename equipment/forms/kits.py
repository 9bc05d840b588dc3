"""The form of a kit: its lines of gear, and the arrangements that go along."""

from itertools import groupby

from django import forms
from django.db import models, transaction
from django.forms import inlineformset_factory

from equipment.models import Arrangement, Item, Kit, KitItem

from .rows import MOST, FormWithRows, RowForm, Rows
from .selects import LongSelect


class KitLineForm(RowForm):
    """A piece of gear in a kit, and how many of it."""

    quantity = forms.IntegerField(
        label="How many", required=False, min_value=1, max_value=99, initial=1,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "maxlength": 2, "class": "short"}),
    )

    class Meta:
        model = KitItem
        fields = ["item", "quantity"]
        widgets = {"item": LongSelect}

    def __init__(self, *args, items, choices, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["item"].queryset = items
        self.fields["item"].choices = choices  # read once for all rows

    def has_changed(self):
        """A row in which only the number stands, as it stood there, is empty."""
        return any(name != "quantity" for name in self.changed_data) or (
            bool(self.instance.pk) and bool(self.changed_data)
        )

    def clean_quantity(self):
        return self.cleaned_data["quantity"] or 1


class KitLineRows(Rows):
    """The lines of a kit."""

    once = "item"

    def save(self, commit=True):
        """Save the lines; they keep the order in which they stand."""
        saved = super().save(commit)
        left = [form.instance for form in self.forms if form.instance.pk and form not in self.deleted_forms]
        for position, line in enumerate(left):
            line.position = position
        KitItem.objects.bulk_update(left, ["position"])
        return saved


class KitForm(FormWithRows):
    """A kit with its lines and arrangements, chosen from the gear of its owner."""

    rows_class = inlineformset_factory(
        Kit, KitItem, form=KitLineForm, formset=KitLineRows, extra=3, max_num=MOST, absolute_max=MOST
    )
    rows_title = "What goes along"
    rows_help = ""
    row_name = "Item"

    class Meta:
        model = Kit
        fields = ["name", "arrangements", "notes"]
        widgets = {"arrangements": forms.CheckboxSelectMultiple(attrs={"class": "down"})}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        arrangements = self.choosable(Arrangement, "kits", models.Q(antenna__retired_on=None)).select_related("antenna")
        field = self.fields["arrangements"]
        field.queryset = arrangements
        field.choices = grouped(arrangements, lambda row: row.antenna.name)
        field.help_text = "The antenna itself is put on the list by its arrangement."

    def choosable(self, model, relation, also=None):
        """Rows of the kit's owner that are in use, and those that the kit has already."""
        wanted = models.Q(retired_on=None)
        if also is not None:
            wanted &= also
        if self.instance.pk:
            wanted |= models.Q(**{relation: self.instance.pk})
        return model.objects.of(self.instance.owner_id).filter(wanted).distinct()

    def rows_of(self, data):
        items = self.choosable(Item, "kit_lines__kit")
        kinds = list(Item.Kind)
        in_order = sorted(items, key=lambda row: kinds.index(row.kind))
        choices = [("", "–"), *grouped(in_order, lambda row: row.get_kind_display())]
        return self.rows_class(
            data, instance=self.instance, prefix="rows",
            form_kwargs={"units": self.units, "items": items, "choices": choices},
        )

    def clean(self):
        cleaned = super().clean()
        self.rows.is_valid()
        removed = {
            form.cleaned_data["item"].pk for form in self.rows.deleted_forms
            if getattr(form, "cleaned_data", {}).get("item")
        } if self.rows.is_valid() else set()
        for arrangement in cleaned.get("arrangements") or ():
            if arrangement.antenna_id in removed:
                self.add_error("arrangements", (
                    f"{arrangement.antenna} is to be removed, but its arrangement {arrangement} is still ticked: "
                    "untick it, or keep the antenna."
                ))
        return cleaned

    @transaction.atomic
    def save(self):
        kit = super().save()
        listed = set(kit.lines.values_list("item_id", flat=True))
        position = len(listed)
        for arrangement in self.cleaned_data["arrangements"]:
            if arrangement.antenna_id not in listed:
                listed.add(arrangement.antenna_id)
                KitItem.objects.create(kit=kit, item_id=arrangement.antenna_id, position=position)
                position += 1
        return kit


def grouped(rows, heading):
    """Choices of rows under headings, in the order of the rows."""
    return [
        (title, [(row.pk, f"{row.name} (retired)" if row.is_retired else row.name) for row in group])
        for title, group in groupby(rows, heading)
    ]
