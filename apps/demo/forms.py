from django import forms

from apps.demo.models import DemoClock


class StopForm(forms.Form):
    """Which day the demo stands at."""

    stop = forms.ChoiceField(
        label="The day", choices=DemoClock.Stop.choices, widget=forms.RadioSelect
    )
