"""Forms of offers, prices and values."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from outshop.errors import InputError
from outshop.market.comparables import Comparable
from outshop.market.money import currency, read_amount
from outshop.market.typed import read_home, read_outlook, read_terms
from outshop.records.models import Lot, Valuation
from outshop.records.models.market import check_currency

CONDITIONS = (
    (1.0, _("as new")),
    (0.85, _("excellent")),
    (0.7, _("very good")),
    (0.55, _("good")),
    (0.35, _("fair")),
    (0.15, _("poor")),
)
LONG = 300  # characters of one line
LONGEST_LISTING = 200_000  # characters; a listing of forty pages has about 120,000
TERMS = (
    "premium",
    "premium_cap",
    "premium_least",
    "online_percent",
    "tax_on_premium",
    "tax_on_hammer",
    "tax_on_carriage",
    "duty_percent",
    "import_percent",
    "fees",
    "carriage",
    "insurance_percent",
    "bids",
    "home_currency",
    "rate",
)
OUTLOOK = (
    "grades",
    "repairs",
    "accepted_regret",
    "hour_worth",
    "bidders",
    "judgement_spread",
)
PLAIN = (
    "title",
    "seller",
    "number",
    "state",
    "purpose",
    "listing",
    "pictures_show",
    "pictures_hide",
    "ends_on",
    "return_by",
    "currency",
    "note",
)


def _line(label: Any, help_text: Any = "", *, required: bool = False) -> forms.CharField:
    return forms.CharField(label=label, help_text=help_text, required=required, max_length=LONG)


def _text(label: Any, help_text: Any = "", most: int = 20_000) -> forms.CharField:
    return forms.CharField(
        label=label, help_text=help_text, required=False, max_length=most, widget=forms.Textarea
    )


def _day(label: Any) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=False, widget=widget)


def _code() -> forms.CharField:
    return forms.CharField(
        label=_("Currency"),
        max_length=3,
        initial="EUR",
        validators=[check_currency],
        help_text=_("Three letters of ISO 4217: EUR, GBP, CHF."),
    )


class LotForm(forms.Form):
    """What is offered, on which terms, and what it may turn out to be."""

    title = _line(_("What is offered"), required=True)
    seller = _line(_("Seller or sale"))
    number = _line(_("Lot number"))
    state = forms.ChoiceField(label=_("How it stands"), choices=Lot.State.choices)
    purpose = forms.ChoiceField(label=_("What for"), choices=Lot.Purpose.choices)
    ends_on = _day(_("Ends on"))
    return_by = _day(_("May be returned until"))
    listing = _text(
        _("The seller's words"),
        _("Paste the whole listing. Claims such as “serviced” are found in it."),
        LONGEST_LISTING,
    )
    pictures_show = _text(_("What the pictures show"))
    pictures_hide = _text(_("What they do not show"))
    currency = _code()
    premium = _line(_("Buyer's premium"), _("25 % to 1000; 20 % to 5000; 12 %"))
    premium_cap = _line(_("Premium at most"))
    premium_least = _line(_("Premium at least"))
    online_percent = _line(_("Online surcharge, %"))
    tax_on_premium = _line(_("Tax on premium and surcharge, %"))
    tax_on_hammer = _line(_("Tax on the hammer price, %"))
    duty_percent = _line(_("Customs duty, %"))
    import_percent = _line(_("Import tax, %"), _("Also on the duty."))
    fees = _line(_("Fixed fees"), _("Handling of the customs, payment, storage."))
    carriage = _line(_("Carriage"))
    tax_on_carriage = _line(_("Tax on carriage, %"))
    insurance_percent = _line(_("Insurance of the carriage, %"))
    bids = _line(_("Bid steps"), _("From which price by how much: 0: 5; 100: 10; 500: 50"))
    home_currency = _line(_("Your own currency"), _("Only if it is another one."))
    rate = _line(_("The day's rate"), _("So much of your own for one of the sale's: 1.17"))
    grades = _text(
        _("Conditions it may have"),
        _("One a line: name; chance in percent; value; spread in percent. runner; 60; 200; 20"),
    )
    repairs = _text(
        _("What may need repair"),
        _("One a line: name; chance in percent; cost; minutes. split gear; 30; 15; 40"),
    )
    accepted_regret = _line(
        _("Chance of regret you accept, %"),
        _("How often it may turn out dearer than it is worth. 20 is common."),
    )
    hour_worth = _line(_("What an hour of your work counts"), _("0 when the work is the pleasure."))
    bidders = _line(_("Serious bidders, you included"))
    judgement_spread = _line(_("How far your own judgement may be off, %"))
    note = _text(_("Note"))

    def clean(self) -> dict[str, Any]:
        """Read terms and outlook once, so that a slip is told beside the form."""
        typed: dict[str, Any] = super().clean() or {}
        texts = {k: str(typed.get(k) or "") for k in (*TERMS, *OUTLOOK)}
        try:
            read_terms(texts, currency(str(typed.get("currency") or "EUR")))
            read_home(texts)
            read_outlook(texts)
        except InputError as problem:
            self.add_error(None, str(problem))
        return typed

    def plain(self) -> dict[str, Any]:
        """Give the fields of the record."""
        typed = self.cleaned_data
        kept = {k: typed[k] for k in PLAIN}
        kept["currency"] = kept["currency"].upper()
        kept["terms"] = {k: typed[k] for k in TERMS if typed[k]}
        kept["outlook"] = {k: typed[k] for k in OUTLOOK if typed[k]}
        return kept


def initial_of(lot: Lot) -> dict[str, Any]:
    """Fill the form from what is kept."""
    return {**{k: getattr(lot, k) for k in PLAIN}, **lot.terms, **lot.outlook}


class AmountForm(forms.Form):
    """An amount of money in a currency, with thousand separators of any country."""

    amount = _line(_("Amount"), required=True)
    currency = _code()

    def clean(self) -> dict[str, Any]:
        """Read the amount exactly."""
        typed: dict[str, Any] = super().clean() or {}
        if "amount" in typed and "currency" in typed:
            try:
                typed["exact"] = read_amount(typed["amount"], currency(typed["currency"]))
            except InputError as problem:
                self.add_error("amount", str(problem))
        return typed

    def exact(self) -> Decimal:
        """Give the amount."""
        amount: Decimal = self.cleaned_data["exact"]
        return amount


class ValueForm(AmountForm):
    """What a piece is worth on one basis."""

    basis = forms.ChoiceField(label=_("Kind of value"), choices=Valuation.Basis.choices)
    valued_on = _day(_("On"))
    source = _line(_("Who says so"))


class SaleForm(AmountForm):
    """One realised price, typed."""

    what = _line(_("What was sold"), required=True)
    sold_on = forms.DateField(
        label=_("Sold on"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    condition = forms.TypedChoiceField(
        label=_("Condition"), coerce=float, choices=CONDITIONS, initial=0.55
    )
    box = forms.BooleanField(label=_("with its box"), required=False)
    papers = forms.BooleanField(label=_("with papers"), required=False)
    working = forms.BooleanField(label=_("runs"), required=False)
    source = _line(_("Where the price comes from"))

    def clean(self) -> dict[str, Any]:
        """Refuse a price of nothing and a day to come."""
        typed = super().clean()
        if "exact" in typed and typed["exact"] <= 0:
            self.add_error("amount", _("A sale needs a price above 0."))
        if (day := typed.get("sold_on")) and day > timezone.localdate():
            self.add_error("sold_on", _("This day is still to come: check the year."))
        return typed

    def sale(self) -> Comparable:
        """Give the sale as the market room reads it."""
        t = self.cleaned_data
        code = t["currency"].upper()
        flags = (t["box"], t["papers"], t["working"])
        return Comparable(
            t["sold_on"], self.exact(), code, t["what"], t["condition"], *flags, t["source"]
        )


class SubjectForm(forms.Form):
    """The condition in which a piece is to be valued."""

    condition = forms.TypedChoiceField(
        label=_("Condition"),
        coerce=float,
        choices=CONDITIONS,
        initial=0.55,
    )
    box = forms.BooleanField(label=_("with its box"), required=False)
    papers = forms.BooleanField(label=_("with papers"), required=False)
    working = forms.BooleanField(label=_("runs"), required=False, initial=True)
