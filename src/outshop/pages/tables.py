"""Reading a table that was sent."""

from django.http import HttpRequest

from outshop.errors import InputError
from outshop.pages import fields

LARGEST_TABLE = 4_000_000  # bytes; ten thousand lines are under one million


def read_upload(request: HttpRequest) -> str:
    """Give the text of a CSV file that was sent.

    Raises
    ------
    InputError
        None was sent, it is too large, or it is not UTF-8.
    """
    sent = fields.uploaded(request)
    data = sent.source.read(LARGEST_TABLE + 1)
    if len(data) > LARGEST_TABLE:
        message = f"{sent.name} is larger than {LARGEST_TABLE // 1_000_000} MB: split the table"
        raise InputError(message)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        message = f"{sent.name} is not UTF-8 text: save it as CSV in UTF-8"
        raise InputError(message) from problem
