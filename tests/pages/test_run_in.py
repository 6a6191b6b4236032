"""The run-in clock as the page shows it; the time of day is ours."""

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse

from outshop.pages import bench_clock
from outshop.records.models import RunIn

BEGAN = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)


class Watch:
    """A clock that goes only when it is told to."""

    def __init__(self):
        self.time = BEGAN

    def __call__(self):
        return self.time

    def wait(self, minutes: float):
        self.time += timedelta(minutes=minutes)


@pytest.fixture(name="watch")
def _watch(monkeypatch):
    watch = Watch()
    monkeypatch.setattr(bench_clock, "now", watch)
    return watch


@pytest.fixture(name="run_in")
def _run_in(client, piece, watch):
    client.post(
        reverse("run_in_new", args=[piece.pk]),
        {"forward": "10", "reverse": "10", "temperature_limit_c": "55"},
    )
    return RunIn.objects.get()


def page(client, run_in) -> str:
    return client.get(reverse("run_in", args=[run_in.pk])).content.decode()


def press(client, run_in, name: str, **form):
    return client.post(reverse(f"run_in_{name}", args=[run_in.pk]), form, follow=True)


def test_a_reload_shows_the_time_that_went_on(client, run_in, watch):
    press(client, run_in, "start")
    watch.wait(4.25)
    assert "05:45" in page(client, run_in)
    assert 'data-state="going"' in page(client, run_in)


def test_a_laptop_closed_over_night_adds_no_running_hours(client, run_in, watch, piece):
    press(client, run_in, "start")
    watch.wait(14 * 60)
    assert "Stop, then turn to reverse" in page(client, run_in)
    press(client, run_in, "turn", leg="0")
    watch.wait(10)
    press(client, run_in, "turn", leg="1")
    assert piece.running_log.get().minutes == pytest.approx(20)


def test_the_clock_holds_at_the_turn_until_it_is_confirmed(client, run_in, watch):
    press(client, run_in, "start")
    watch.wait(25)
    assert "00:00" in page(client, run_in)
    press(client, run_in, "turn", leg="0")
    assert "10:00" in page(client, run_in)
    press(client, run_in, "turn", leg="0")  # a second tap turns nothing
    watch.wait(1)
    assert "09:00" in page(client, run_in)


def test_pause_holds_and_going_on_continues(client, run_in, watch):
    press(client, run_in, "start")
    watch.wait(3)
    press(client, run_in, "pause")
    watch.wait(60)
    assert "07:00" in page(client, run_in)
    press(client, run_in, "start")
    watch.wait(2)
    assert "05:00" in page(client, run_in)


def test_a_reading_above_the_limit_stops_and_logs_what_was_run(client, run_in, watch, piece):
    press(client, run_in, "start")
    watch.wait(6)
    text = press(client, run_in, "reading", temperature_c="61").content.decode()
    assert "Stop. Switch off now." in text
    assert "61 °C is above the limit of 55 °C" in text
    assert piece.running_log.get().minutes == pytest.approx(6)
    assert press(client, run_in, "start").status_code == 409


@pytest.mark.parametrize(
    "form",
    [{}, {"current_a": "much"}, {"temperature_c": "4000"}, {"current_a": "nan"}],
    ids=["nothing", "no number", "impossible", "not a number"],
)
def test_a_reading_that_cannot_be_is_refused_and_the_clock_goes_on(client, run_in, watch, form):
    press(client, run_in, "start")
    answer = press(client, run_in, "reading", **form)
    assert answer.status_code == 400
    assert run_in.samples.count() == 0
    assert 'data-state="going"' in answer.content.decode()


@pytest.mark.parametrize("minutes", ["0", "-5", "", "99999", "ten"])
def test_minutes_that_cannot_be_are_refused(client, piece, watch, minutes):
    address = reverse("run_in_new", args=[piece.pk])
    assert client.post(address, {"forward": minutes, "reverse": "10"}).status_code == 400
    assert RunIn.objects.count() == 0
