"""The field and the form that take in a picture."""

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError

from equipment import pictures


class PictureField(forms.FileField):
    """A picture to be kept; its clean value is the bytes of the JPEG that equipment.pictures makes of it."""

    widget = forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp,image/avif,image/gif"})

    def __init__(self, **kwargs):
        kwargs.setdefault("help_text", (
            f"{pictures.SAID}, up to {settings.PICTURE_UPLOAD_MAX_BYTES // 1024 // 1024} MB. It is scaled down, and "
            "the place, time and camera that the file may name are removed before it is kept."
        ))
        super().__init__(**kwargs)

    def clean(self, data, initial=None):
        file = super().clean(data, initial)
        if not file or file is initial:
            return file
        try:
            return pictures.recoded(file, max_bytes=settings.PICTURE_UPLOAD_MAX_BYTES)
        except pictures.PictureRefused as error:
            raise ValidationError(str(error), code="refused") from error


class ItemPictureForm(forms.Form):
    """A picture of a piece of gear."""

    picture = PictureField(label="Picture")

    def __init__(self, *args, instance, **kwargs):
        super().__init__(*args, **kwargs)
        self.instance = instance

    def save(self):
        self.instance.show(self.cleaned_data["picture"])
        return self.instance
