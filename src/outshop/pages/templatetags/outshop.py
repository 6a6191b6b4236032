"""Tags and filters that every template may load as ``outshop``."""

import re
import uuid
from typing import Any
from urllib.parse import urlsplit

from django import template
from django.forms import BoundField
from django.http import HttpRequest
from django.template import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from outshop.estimate import Estimate, Reading
from outshop.pages import nav, words
from outshop.pages.formation.kind_names import kind_name, selector_name
from outshop.reports import spoken_dates
from outshop.reports.figures import written

register = template.Library()

MOMENT = re.compile(r"(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d)(?::[\d.]+)?(?:[+-]\d\d:?\d\d|Z)?")


@register.simple_tag(takes_context=True)
def nav_links(context: Context) -> list[nav.NavLink]:
    """Give the links in the page's head."""
    request: HttpRequest | None = context.get("request")
    return nav.links(request.path if request else "")


@register.simple_tag
def form_token() -> SafeString:
    """Give the hidden field that makes sending a form twice harmless."""
    return format_html('<input type="hidden" name="form_token" value="{}">', uuid.uuid4().hex)


@register.inclusion_tag("parts/field.html")
def field(bound: BoundField, *, whole: bool = False) -> dict[str, Any]:
    """Show one form field with its label, help and errors."""
    return {"field": bound, "whole": whole}


@register.simple_tag(takes_context=True)
def with_query(context: Context, **changes: Any) -> str:
    """Give the present address with some query values changed."""
    query = context["request"].GET.copy()
    for key, value in changes.items():
        query[key] = str(value)
    return f"?{query.urlencode()}"


@register.simple_tag(takes_context=True)
def sent_fields(context: Context) -> list[tuple[str, str]]:
    """Give what a form sent, so that an error page can send it once more; never a secret."""
    request: HttpRequest | None = context.get("request")
    if request is None or request.method != "POST" or request.FILES:
        return []
    hidden = {"csrfmiddlewaretoken", "passphrase"}
    return [
        (name, value)
        for name, values in request.POST.lists()
        if name not in hidden
        for value in values
    ]


@register.simple_tag
def status_title(status: int) -> str:
    """Give the heading of an error page."""
    titles = {
        400: _("That cannot be used"),
        403: _("Not this way"),
        404: _("Nothing here"),
        405: _("Not this way"),
        409: _("Changed meanwhile"),
        413: _("Too large"),
        503: _("The store is not to be had"),
    }
    return titles.get(status, _("Something went wrong"))


@register.filter
def reading(value: Reading | None) -> SafeString:
    """Write a reading with its interval and unit."""
    return _reading_html(value)


@register.filter
def change(value: Reading | None) -> SafeString:
    """Write a change with its sign, interval and unit."""
    return _reading_html(value, signed=True)


@register.filter
def quantity(key: str) -> str:
    """Give the name of a measured quantity."""
    return words.quantity(key)


@register.filter
def verdict(key: str) -> str:
    """Give a verdict in words."""
    return words.verdict(key)


@register.filter
def record_kind(key: str) -> str:
    """Give the name of a kind of record, as the history shows it."""
    return words.record_kind(key)


@register.filter
def selector(name: str) -> str:
    """Give what a recipe's selector names, in words."""
    return selector_name(name)


@register.filter
def vehicle_kind(kind: str) -> str:
    """Give the name of a kind of wagon or coach."""
    return kind_name(kind)


@register.filter
def sentence(text: object) -> str:
    """Write an error or a warning as a sentence: a capital first, a full stop last."""
    words = str(text).strip()
    end = "" if words.endswith((".", "!", "?", ":")) or not words else "."
    first = words.split(" ", 1)[0]
    if "." not in first.rstrip(".!?:"):  # a file's name keeps its own letters
        words = words[:1].upper() + words[1:]
    return words + end


@register.filter
def value_of(names: dict[str, str], key: str) -> str:
    """Look a key up; one that is not known is shown in words."""
    return names.get(key) or key.removeprefix("own-").replace("-", " ")


@register.filter
def get_item(found: dict[str, Any], key: str) -> Any:
    """Look something up by a key that is only known in the template; None if it is not there."""
    return found.get(key)


@register.filter
def kept_value(text: str) -> str:
    """Write a value of the history; moments lose their fractions of a second."""
    return MOMENT.sub(r"\1 \2", text)


@register.filter
def minutes(value: float) -> str:
    """Write minutes as ``25 min`` or ``1 h 20 min``."""
    whole = round(value)
    if whole < 60:
        return _("%(n)d min") % {"n": whole}
    return _("%(h)d h %(n)02d min") % {"h": whole // 60, "n": whole % 60}


@register.filter
def clock(seconds: float) -> str:
    """Write seconds as ``07:42``."""
    whole = max(0, round(seconds))
    return f"{whole // 60:02d}:{whole % 60:02d}"


@register.filter
def local_address(address: str | None) -> str:
    """Keep only the path of an address, so that a link never leaves this machine."""
    parts = urlsplit(address or "")
    return parts.path + (f"?{parts.query}" if parts.query else "") or "/"


@register.filter
def state_mark(state: str) -> str:
    """Give the mark beside a piece's state."""
    return {"on_the_bench": "watch", "running_in": "watch", "in_traffic": "good"}.get(state, "")


@register.filter
def identity_line(piece: Any) -> str:
    """Give a piece's edition, scale and arrangement on one line, as far as they are known."""
    facts = (piece.edition, piece.known_scale, piece.known_arrangement, piece.get_kind_display())
    return " · ".join(str(fact) for fact in facts if fact)


def _reading_html(value: Reading | None, *, signed: bool = False) -> SafeString:
    """Write ``57.2 ±0.3 dB(A)``, the interval small; or why there is no number."""
    if value is None:
        return format_html('<span class="reading none">{}</span>', "–")
    if not isinstance(value, Estimate):
        return format_html(
            '<span class="reading none">{}</span> <span class="why">{}</span>',
            _("not measurable"),
            value.reason,
        )
    shown = written(value, signed=signed)
    return format_html(
        '<span class="reading"><b>{}</b> <i>{}</i> <i>{}</i></span>',
        shown.value,
        shown.spread,
        shown.unit,
    )


@register.filter
def spoken(text: str) -> str:
    """Say a date, an interval or a choice of dates in plain words."""
    return spoken_dates.in_words(str(text or ""))
