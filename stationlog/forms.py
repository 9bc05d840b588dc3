"""Forms of accounts: set-up, invitation, login, preferences, phones."""

from django import forms
from django.contrib.auth.forms import AuthenticationForm, BaseUserCreationForm

from .models import CALL_SIGN, Invitation, Operator, PhonePairing


class CallSignField(forms.CharField):
    """A call sign, taken in capitals."""

    def __init__(self, **options):
        super().__init__(max_length=20, **options)
        self.widget.attrs |= {"autocapitalize": "characters", "spellcheck": "false", "class": "call"}

    def to_python(self, value):
        return (super().to_python(value) or "").upper()


class GridField(forms.CharField):
    """A grid square, taken in its usual spelling: letters of the field in capitals, later ones small."""

    def __init__(self, **options):
        super().__init__(max_length=10, **options)
        self.widget.attrs |= {"autocapitalize": "off", "spellcheck": "false", "autocomplete": "off", "class": "grid"}

    def to_python(self, value):
        value = super().to_python(value) or ""
        return value[:2].upper() + value[2:].lower()


class LoginForm(AuthenticationForm):
    """Call sign and password."""

    username = CallSignField(
        label="Call sign", widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "username"})
    )
    error_messages = {
        "invalid_login": "No account has this call sign and password. After several wrong tries you have to wait.",
        "inactive": "This account is closed.",
    }


class NewOperatorForm(BaseUserCreationForm):
    """A new operator account for somebody who holds a code."""

    call_sign = CallSignField(label="Call sign", validators=[CALL_SIGN], help_text="You log in with it.")
    home_grid = GridField(label="Home grid", required=False, help_text="Grid square, such as JO62 or JO62qm.")

    class Meta:
        model = Operator
        fields = ["call_sign", "name", "home_grid", "units", "clock"]
        labels = {"clock": "Local time as"}

    def __init__(self, *args, invitation, **kwargs):
        super().__init__(*args, **kwargs)
        self.invitation = invitation
        self.fields["call_sign"].widget.attrs["autocomplete"] = "username"
        self.fields["name"].widget.attrs["autocomplete"] = "name"
        self.fields["password1"].help_text = "At least 10 characters; a few words that you can type are best."
        self.fields["password2"].help_text = ""
        self.fields["password2"].label = "Password again"

    def save(self, *, keeper=False):
        """Use the code up and make the account."""
        self.instance.keeper = keeper
        self.invitation.use()
        return super().save()


class SetUpForm(NewOperatorForm):
    """The first account, for whoever can see the window in which the program was started."""

    code = forms.CharField(
        label="Set-up code", max_length=40,
        help_text="The window in which the program was started shows it.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "class": "mono"}),
    )
    demo = forms.BooleanField(
        label="Fill my log with the demo scenario", required=False,
        help_text="Invented gear, sites, 24 outings and their contacts, to look around in.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["call_sign"].widget.attrs.pop("autofocus", None)
        self.fields["call_sign" if self.initial.get("code") else "code"].widget.attrs["autofocus"] = True

    field_order = ["code", "call_sign", "name", "password1", "password2", "home_grid", "units", "clock", "demo"]

    def clean_code(self):
        code = self.cleaned_data["code"]
        if self.invitation is None:
            raise forms.ValidationError(
                "There is no valid set-up code. Stop the program and start it again: it shows a new one."
            )
        if not self.invitation.fits(code):
            raise forms.ValidationError("This is not the set-up code that the program showed when it was last started.")
        return code

    def save(self):
        return super().save(keeper=True)


class PreferencesForm(forms.ModelForm):
    """What an operator may change about the own account."""

    home_grid = GridField(label="Home grid", required=False, help_text="Grid square, such as JO62 or JO62qm.")

    class Meta:
        model = Operator
        fields = ["name", "home_grid", "units", "clock", "decimal_sign", "theme", "paper", "place_by_area"]
        labels = {"clock": "Local time as", "theme": "Light of the page", "paper": "Paper for printing"}
        help_texts = {
            "decimal_sign": "Both can be typed; files keep a point.",
            "place_by_area": "Marked as approximate, with the radius, and counted apart: never in the figures of "
                             "distances or in an export. Towns by GeoNames (geonames.org), CC BY 4.0.",
        }


class InvitationForm(forms.ModelForm):
    """Whom a new invitation is for."""

    class Meta:
        model = Invitation
        fields = ["note"]
        help_texts = {"note": "A word to yourself, such as a call sign."}

    def save(self, invited_by):
        """Make the invitation and return its code."""
        return Invitation.objects.make(invited_by, self.cleaned_data["note"])


class PhoneNameForm(forms.ModelForm):
    """What the operator calls a paired phone."""

    class Meta:
        model = PhonePairing
        fields = ("name",)

    def save(self, commit=True):
        self.instance.save(update_fields=["name"])
        return self.instance


class PairingForm(forms.Form):
    """Under which of the addresses of this program the new phone is to know it."""

    origin = forms.ChoiceField(
        label="The phone reaches this computer as", widget=forms.RadioSelect,
        help_text="A phone keeps what is typed under this one address. The name stays; a number can change with the "
                  "network. Take the number only if the phone does not find the name.",
        error_messages={"invalid_choice": "This computer is not reached under that address. Choose one of these."},
    )

    def __init__(self, *args, origins, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["origin"].choices = [(origin, origin) for origin in origins]
        self.fields["origin"].initial = origins[0] if origins else None

    def save(self, operator, now):
        """Make the code and return its token."""
        return PhonePairing.objects.make(operator, self.cleaned_data["origin"], now)
