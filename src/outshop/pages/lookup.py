"""Find the record that an address names, or say in a sentence that it is gone."""

from typing import TypeVar

from django.db.models import Model, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _

from outshop.errors import MissingError
from outshop.records.models import Inspection, JobCard, JobStep, Piece, Recording, Release, RunIn

M = TypeVar("M", bound=Model)


def one(found: QuerySet[M], pk: int) -> M:
    """Give the row with this number.

    Raises
    ------
    MissingError
        There is none.
    """
    record = found.filter(pk=pk).first()
    if record is None:
        kind = found.model._meta.verbose_name  # noqa: SLF001 - Django documents _meta as public
        message = _("There is no %(kind)s number %(pk)d: it may have been removed.")
        raise MissingError(message % {"kind": kind, "pk": pk})
    return record


def piece(pk: int) -> Piece:
    """Give a piece with its edition."""
    return one(Piece.objects.select_related("edition", "cover__media"), pk)


def recording(pk: int) -> Recording:
    """Give a recording with its piece and file."""
    return one(Recording.objects.select_related("piece__edition", "media"), pk)


def inspection(pk: int) -> Inspection:
    """Give an inspection with its piece and findings."""
    rows = Inspection.objects.select_related("piece__edition")
    return one(rows.prefetch_related("findings__photos__media"), pk)


def job(pk: int) -> JobCard:
    """Give a job card with its piece."""
    return one(JobCard.objects.select_related("piece__edition", "inspection"), pk)


def step(pk: int) -> JobStep:
    """Give a step with its card and piece."""
    return one(JobStep.objects.select_related("card__piece"), pk)


def run_in(pk: int) -> RunIn:
    """Give a run-in with its piece and segments."""
    rows = RunIn.objects.select_related("piece__edition", "job")
    return one(rows.prefetch_related("segments", "samples"), pk)


def release(pk: int) -> Release:
    """Give a release sheet with its piece and PDF."""
    return one(Release.objects.select_related("piece", "pdf", "job"), pk)


def address(of: Piece) -> str:
    """Give the address of a piece's page."""
    return reverse("piece", args=[of.pk])
