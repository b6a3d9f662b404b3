"""What stewards fill in: a reason, a band, a limit, a conductor, a setting, an invitation, a filter."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from measurements.pages.layout.form_handling import DateInput
from measurements.pages.steward import presenters
from measurements.selectors.operations.audit import AuditFilter
from measurements.selectors.reference.reference import GroupSettingRow

MAX_TEXT = 500
DESIGN_KEY = r"^[a-z0-9]{12}$"
_KEY_WORDS = "Give the twelve letters and digits at the end of the design's address."
KEY_MESSAGES = {"required": _KEY_WORDS, "invalid": _KEY_WORDS}


class DecimalInput(forms.TextInput):
    """Typed on a telephone's number keys."""

    def __init__(self) -> None:
        super().__init__(attrs={"inputmode": "decimal", "autocomplete": "off"})


class NumberField(forms.FloatField):
    """A number with a point or a comma before its decimals."""

    default_error_messages = {"invalid": "Give a number, such as 7.2.", "required": "Give a number."}

    def __init__(self, **given: Any) -> None:
        super().__init__(widget=DecimalInput(), **given)

    def to_python(self, value: Any) -> float | None:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)


def build_source_field() -> forms.CharField:
    """Build the field for the source of a figure: everybody reads it beside the figure."""
    return forms.CharField(
        max_length=MAX_TEXT,
        label="Source",
        help_text="Where it is decided or written. Everybody reads it beside the figure.",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say where it is decided or written."},
    )


class ReasonForm(forms.Form):
    """Why a test is left out."""

    use_required_attribute = False

    reason = forms.CharField(
        max_length=MAX_TEXT,
        label="Reason",
        help_text="Its owner reads it on the test's page and in the API. Nobody else does.",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why: its owner reads it."},
    )


class BandForm(forms.Form):
    """A band from a day on."""

    use_required_attribute = False

    band = forms.CharField(max_length=8, label="Band", help_text="By its wavelength, such as 40m.")
    start_mhz = NumberField(label="From, MHz")
    stop_mhz = NumberField(label="To, MHz")
    valid_from = forms.DateField(
        label="In force from", help_text="The row before it ends the day before.", widget=DateInput()
    )
    source = build_source_field()

    def __init__(self, data: Any = None, *, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, initial={"valid_from": timezone.localdate(), **(initial or {})})

    def fields_given(self) -> dict[str, Any]:
        """Return the fields as `services.reference.band_plan.change_band` takes them."""
        given = dict(self.cleaned_data)
        # whole hertz: 7.2 MHz typed is not 7200000.000000001 Hz
        return {f"{end}_hz": float(round(given.pop(f"{end}_mhz") * 1e6)) for end in ("start", "stop")} | given


class BandEndForm(forms.Form):
    """The last day of a band."""

    use_required_attribute = False

    band = forms.ChoiceField(label="Band")
    last_day = forms.DateField(
        label="Last day", widget=DateInput(), error_messages={"required": "Choose its last day."}
    )
    source = build_source_field()

    def __init__(self, bands: list[str], data: Any = None) -> None:
        super().__init__(data, auto_id="id_end_%s")
        self.fields["band"].choices = [(band, band) for band in bands]  # type: ignore[attr-defined]


class LimitForm(forms.Form):
    """A limit from a day on."""

    use_required_attribute = False

    limit = forms.ChoiceField(label="Limit", choices=list(presenters.LIMIT_NAMES.items()))
    value = NumberField(label="Value")
    as_of = forms.DateField(label="From", widget=DateInput())
    source = build_source_field()

    def __init__(self, data: Any = None, *, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, initial={"as_of": timezone.localdate(), **(initial or {})})

    def fields_given(self) -> dict[str, Any]:
        """Return the fields as `services.reference.benchmarks.change_benchmark` takes them."""
        given = dict(self.cleaned_data)
        kind, _, metric = given.pop("limit").partition(".")
        return {"kind": kind, "metric": metric, **given}


class ConductorForm(forms.Form):
    """A conductor for the list."""

    use_required_attribute = False

    name = forms.CharField(max_length=64, label="Name", help_text="As the trade writes it; it is published.")
    outer_mm = NumberField(
        required=False,
        label="Diameter, mm",
        help_text="Over all insulation. Empty where no source gives it.",
    )
    source = build_source_field()


class SettingForm(forms.Form):
    """One number of the group; `version` tells whether somebody changed it meanwhile."""

    use_required_attribute = False

    name = forms.CharField(max_length=48, widget=forms.HiddenInput())
    version = forms.CharField(required=False, max_length=48, widget=forms.HiddenInput())
    value = NumberField()

    def __init__(self, row: GroupSettingRow, data: Any = None) -> None:
        start = {"name": row.name, "version": row.version, "value": f"{row.value:g}"}
        super().__init__(data, initial=start, auto_id=f"id_{row.name}_%s")
        self.fields["value"].label = f"{row.label}, dB" if row.unit == "dB" else row.label
        self.fields[
            "value"
        ].help_text = f"{row.meaning} House default: {row.default:g}; {row.low:g} to {row.high:g}."


class InviteForm(forms.Form):
    """A new account."""

    use_required_attribute = False

    name = forms.CharField(
        max_length=64,
        label="Name",
        help_text="What the group knows the person by. Stewards and the operators of a night read it.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    role = forms.ChoiceField(label="Role", choices=list(presenters.ROLES.items()))


class RoleForm(forms.Form):
    """Another role."""

    use_required_attribute = False

    role = forms.ChoiceField(label="Role", choices=list(presenters.ROLES.items()))


class MergeForm(forms.Form):
    """Two designs that are one."""

    use_required_attribute = False

    design = forms.RegexField(
        DESIGN_KEY,
        label="This design",
        help_text="The twelve characters at the end of its address.",
        error_messages=KEY_MESSAGES,
    )
    into = forms.RegexField(
        DESIGN_KEY, label="Is in truth this one", help_text="This one stays.", error_messages=KEY_MESSAGES
    )


class CoreMatchForm(forms.Form):
    """Which listed core a typed size is."""

    use_required_attribute = False

    shape = forms.CharField(max_length=16, widget=forms.HiddenInput())
    mix = forms.CharField(max_length=16, widget=forms.HiddenInput())
    outer_mm = forms.FloatField(widget=forms.HiddenInput())
    inner_mm = forms.FloatField(widget=forms.HiddenInput())
    height_mm = forms.FloatField(widget=forms.HiddenInput())
    part = forms.ChoiceField(label="Is in truth")

    def __init__(self, parts: list[tuple[str, str]], data: Any = None, *, initial: Any = None) -> None:
        super().__init__(data, initial=initial)
        self.fields["part"].choices = parts  # type: ignore[attr-defined]


class LogForm(forms.Form):
    """Which lines of the log."""

    use_required_attribute = False

    actor = forms.CharField(required=False, max_length=64, label="Who")
    action = forms.CharField(
        required=False, max_length=48, label="What", help_text="How it begins, such as test. or account."
    )
    subject = forms.CharField(
        required=False, max_length=64, label="Which", help_text="A key, an account's name."
    )
    since = forms.DateField(required=False, label="From", widget=DateInput())
    until = forms.DateField(required=False, label="To", widget=DateInput())

    @property
    def wanted(self) -> AuditFilter:
        return AuditFilter(**self.cleaned_data)
