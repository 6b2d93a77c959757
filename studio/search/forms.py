"""What is looked for, read alike for the page and for programs."""

from django import forms
from django.utils.translation import gettext_lazy

from studio.search.queries import LONGEST


class SearchForm(forms.Form):
    """Words or a code; the name of one kind shows all of it."""

    q = forms.CharField(
        label=gettext_lazy("Search everything"), max_length=LONGEST, required=False, strip=True
    )
    kind = forms.SlugField(required=False)
