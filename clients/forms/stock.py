"""The stock list: an article, a file of them, and a sale."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError

from clients.forms.fields import InchField, MeasureField
from clients.forms.tickets import PriceField
from clients.models import Ball, StockBall
from clients.stock_files import FILE, StockFileError
from clients.table_files import check_size

_MEASURED = ("mass_lb", "rg_in", "differential_in", "intermediate_in")
_WHOLE = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})


def _price_label() -> str:
    return f"Price, {settings.CURRENCY}".rstrip(", ")


class StockForm(forms.ModelForm):
    class Meta:
        model = StockBall
        fields = ["name", "cover", "code", "quantity", "price", "grit", "polished", *_MEASURED]
        fields += ["pin_out_in", "note"]
        field_classes = {
            **dict.fromkeys(_MEASURED, MeasureField),
            "pin_out_in": InchField,
            "price": PriceField,
        }
        widgets = {"quantity": _WHOLE, "grit": _WHOLE}
        help_texts = {
            "code": "Your own. An import changes the ball with this number and adds none.",
            "quantity": "0 keeps it in the list as sold out.",
            "pin_out_in": "From the pin to the CG; 1 to 6 in is usual.",
            "grit": "The number of the last abrasive, 80 to 10000.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["price"].label = _price_label()

    def clean_code(self) -> str | None:
        return self.cleaned_data["code"] or None


class StockFileForm(forms.Form):
    file = forms.FileField(
        label="Stock list",
        help_text="CSV or XLSX with a header row; only name and cover are required. "
        "You see everything before it counts.",
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,.txt"}),
        error_messages={
            "required": "Choose a file.",
            "empty": "The file is empty. Expected a header row and at least one ball.",
        },
    )

    def clean_file(self) -> Any:
        upload = self.cleaned_data["file"]
        try:
            check_size(upload.size, FILE)
        except StockFileError as error:
            raise ValidationError(str(error)) from None
        return upload


class SaleForm(forms.Form):
    """What goes with a sale; the key makes a second tap find the first one's."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    name = forms.CharField(
        max_length=Ball._meta.get_field("name").max_length,
        help_text="As the shot log will write it.",
    )
    price = PriceField(min_value=0, max_value=99999, decimal_places=2, required=False)

    def __init__(self, *args: Any, stock: StockBall, **kwargs: Any) -> None:
        kwargs["initial"] = {"key": uuid.uuid4, "name": stock.name, "price": stock.price}
        super().__init__(*args, **kwargs)
        self.fields["price"].label = _price_label()
