"""The form that brings a file of reception reports in: chosen, looked at, kept."""

import datetime

from django import forms
from django.db import transaction

from equipment.forms.pack_logs import packed, unpacked
from outings import reception_files
from outings.models import ReceptionFile, ReceptionReport

MOST_PROBLEMS = 1000
EARLY_LATE_S = 12 * 3600  # reports this far outside the outing are of another day: the file is for another outing


class ReceptionForm(forms.Form):
    """A file of reports for an outing. `read` holds what was recognised once it could be read."""

    reports = forms.FileField(
        label="File", required=False, allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,.tsv,text/csv,text/plain"}),
        help_text="CSV; on each line a time (UTC), the receiver’s call or grid square, a frequency and an SNR in dB. "
                  "Nothing is kept before you have seen how it is read.",
    )
    content = forms.CharField(required=False, widget=forms.HiddenInput)
    file_name = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)
    day = forms.DateField(
        label="Day of times without a date (UTC)", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    time = forms.CharField(required=False)
    date = forms.CharField(required=False)
    receiver = forms.CharField(required=False)
    grid = forms.CharField(required=False)
    frequency = forms.CharField(required=False)
    snr = forms.CharField(required=False)

    COLUMNS = tuple(reception_files.ROLES)

    def __init__(self, data=None, files=None, *, outing):
        self.outing, self.read, self.refused, self.bytes = outing, None, "", b""
        super().__init__(data.copy() if data is not None else None, files)
        self.keeps = bool(data) and "keep" in data
        self.fields["day"].initial = outing.window_start.date()
        for name in self.COLUMNS:
            self.fields[name] = forms.TypedChoiceField(
                label=reception_files.ROLES[name].capitalize(), required=False, coerce=int, empty_value=None,
                choices=[("", "as recognised")],
            )
        if self.is_bound:
            self.take_file()

    def take_file(self):
        """Read the file that was chosen or that came along, so that its columns can be offered."""
        upload = (self.files or {}).get("reports")
        try:
            if upload is not None:
                if upload.size > reception_files.MOST_BYTES:
                    raise ValueError(f"a file of reports is at most {reception_files.MOST_BYTES // 2**20} MB")
                self.bytes = upload.read()
                self.data["content"], self.data["file_name"] = packed(self.bytes), (upload.name or "reports")[-120:]
                for name in self.COLUMNS:
                    self.data[name] = ""
            elif self.data.get("content"):
                self.bytes = unpacked(self.data["content"])
            else:
                raise ValueError("choose a file first")
            names = reception_files.columns_in(self.bytes)
        except ValueError as reason:
            self.refused, self.data["content"] = str(reason), ""
            return
        for name in self.COLUMNS:
            offered = [(i, f"{i + 1}: {column}") for i, column in enumerate(names)]
            self.fields[name].choices = [("", "as recognised"), *offered, (-1, "none of them")]

    def clean(self):
        wanted = super().clean()
        if self.refused:
            self.add_error("reports", f"{self.refused[:1].upper()}{self.refused[1:]}.")
            return wanted
        chosen = {
            name: None if wanted[name] == -1 else wanted[name]
            for name in self.COLUMNS if wanted.get(name) is not None
        }
        day = wanted.get("day") or self.outing.window_start.date()
        try:
            self.read = reception_files.read(self.bytes, day, chosen)
        except reception_files.BadFile as reason:
            self.add_error(None, f"This is no file of reports: {reason}.")
            return wanted
        if not self.read.reports:
            self.add_error(None, "No line could be taken; the first reason: "
                                 f"line {self.read.bad[0][0]}: {self.read.bad[0][1]}." if self.read.bad else "No line.")
        return wanted

    @property
    def outside(self):
        """Reports far outside the time of the outing."""
        margin = datetime.timedelta(seconds=EARLY_LATE_S)
        start = min(one for one in (self.outing.window_start, self.outing.started_at) if one) - margin
        end = max(one for one in (self.outing.ends_at, self.outing.ended_at) if one) + margin
        return sum(not start <= report.at <= end for report in self.read.reports)

    @property
    def columns(self):
        """The fields that say which column is what."""
        return [self[name] for name in self.COLUMNS]

    @property
    def understood(self):
        """What was recognised, as (what, in which column)."""
        return [(reception_files.ROLES[role].capitalize(), self.read.columns[column])
                for role, column in self.read.used.items()]

    @transaction.atomic
    def save(self):
        """Keep the file with its reports; those that the outing has already are left. Returns (file, how many new)."""
        outing = self.outing
        file = ReceptionFile.objects.create(
            owner=outing.owner, outing=outing, name=self.cleaned_data["file_name"][-120:] or "reports",
            lines=self.read.lines, problems=[list(one) for one in self.read.bad[:MOST_PROBLEMS]],
        )
        had = set(outing.reception_reports.values_list("receiver", "at", "frequency_hz"))
        rows = [
            ReceptionReport(
                owner=outing.owner, file=file, outing=outing, at=report.at, receiver=report.receiver, grid=report.grid,
                frequency_hz=report.frequency_hz, band=report.band, snr_db=report.snr_db,
            ) for report in self.read.reports if (report.receiver, report.at, report.frequency_hz) not in had
        ]
        ReceptionReport.objects.bulk_create(rows, batch_size=500)
        return file, len(rows)
