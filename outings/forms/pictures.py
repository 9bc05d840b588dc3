"""Forms of an outing's pictures: adding one, and its caption."""

from django import forms
from django.conf import settings
from django.core.files.base import ContentFile
from django.db import DatabaseError

from equipment import pictures
from equipment.models.kept_files import drop_unnamed
from outings.models import OutingPicture


class PictureForm(forms.ModelForm):
    """A picture of the set-up, made anew from its pixels, so that it carries no position."""

    file = forms.FileField(
        label="Picture", widget=forms.FileInput(attrs={"accept": "image/*"}),
        error_messages={"required": "Choose a picture."},
        help_text=f"{pictures.SAID}; scaled down, and kept without the position that a camera writes into it",
    )

    class Meta:
        model = OutingPicture
        fields = ["file", "caption"]

    def clean_file(self):
        try:
            data = pictures.recoded(self.cleaned_data["file"], max_bytes=settings.PICTURE_UPLOAD_MAX_BYTES)
        except pictures.PictureRefused as error:
            raise forms.ValidationError(str(error)) from None
        return ContentFile(data, name="picture.jpg")

    def save(self, commit=True):
        self.instance.picture = self.cleaned_data["file"]
        try:
            return super().save(commit)
        except DatabaseError:  # a full disk, say: no file is left without its row
            picture = self.instance.picture
            drop_unnamed(picture, OutingPicture.objects.filter(picture=picture.name))
            raise


class CaptionForm(forms.ModelForm):
    """What a picture shows."""

    class Meta:
        model = OutingPicture
        fields = ["caption"]
