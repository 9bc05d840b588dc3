"""The form that invites an operator to an outing."""

from django import forms
from django.contrib.auth import get_user_model

from outings.models import OutingMember


class InviteForm(forms.Form):
    """Whom to invite, by the call sign of the account."""

    call_sign = forms.CharField(
        label="Call sign of the account", max_length=20,
        widget=forms.TextInput(attrs={"class": "call", "autocomplete": "off", "autocapitalize": "characters"}),
        help_text="An operator who has an account here.",
    )

    def __init__(self, *args, outing, **options):
        super().__init__(*args, **options)
        self.outing = outing

    def clean_call_sign(self):
        call_sign = self.cleaned_data["call_sign"].upper()
        operator = get_user_model().objects.filter(call_sign=call_sign, is_active=True).first()
        if operator is None:
            raise forms.ValidationError(f"Nobody has an account here as {call_sign}.")
        if operator.pk == self.outing.owner_id:
            raise forms.ValidationError("This outing is yours already.")
        if self.outing.members.filter(operator=operator).exists():
            raise forms.ValidationError(f"{call_sign} is invited already.")
        self.operator = operator
        return call_sign

    def save(self):
        """Invite; the operator is there once the invitation is accepted."""
        return OutingMember.objects.get_or_create(outing=self.outing, operator=self.operator)[0]
