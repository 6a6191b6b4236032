"""Care, running log, parts and strip-down as pages: what is typed is kept, nonsense is told."""

import io
from datetime import timedelta

import icalendar
import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from outshop.pages.care import calendar_key
from outshop.records import services
from outshop.records.models import CareDone, CareInterval, FittedPart, JobNeed, StockItem
from outshop.records.queries import due_list, piece_care


def ago(days):
    return timezone.now() - timedelta(days=days)


def text_of(answer) -> str:
    return answer.content.decode()


def words_of(pdf: bytes) -> str:
    pages = PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def state_of(piece, rule):
    return next(d.state for d in piece_care(piece) if d.rule.id == rule)


def test_done_today_moves_the_day(client, piece):
    services.note_care(piece=piece, rule="lubricate", done_at=ago(400))
    assert state_of(piece, "lubricate") == "due"
    assert "Oil bearings" in text_of(client.get(reverse("care")))
    client.post(reverse("care_done", args=[piece.pk]), {"rule": "lubricate"})
    assert state_of(piece, "lubricate") == "later"
    assert "Oil bearings, grease gears" not in text_of(client.get(reverse("care")))


def test_running_hours_bring_it_forward_and_doing_it_starts_them_anew(client, piece):
    services.note_care(piece=piece, rule="lubricate", done_at=ago(350))
    for day in (360, 300, 200):  # the first was before the oil and does not count
        services.log_running(piece=piece, minutes=14 * 60, ran_at=ago(day))
    assert state_of(piece, "lubricate") == "soon"
    services.log_running(piece=piece, minutes=14 * 60, ran_at=ago(5))
    assert "lubricate" in {f.due.rule.id for f in due_list() if f.due.state == "due"}
    assert state_of(piece, "lubricate") == "due"
    services.note_care(piece=piece, rule="lubricate")
    assert state_of(piece, "lubricate") == "later"


def test_a_finished_card_notes_its_care_but_one_given_up_does_not(client, piece):
    for given_up in (True, False):
        card = services.write_job_card(piece=piece, title="Oil", tasks=["lubricate"])
        if not given_up:
            for step in card.steps.all():
                services.tick_step(step=step)
        services.finish_job(card=card, given_up=given_up)
        noted = CareDone.objects.filter(piece=piece, rule="lubricate").count()
        assert noted == (0 if given_up else 1)


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"rule": "polish"}, "No care is called"),
        ({"rule": "lubricate", "day": "1.13.2020"}, "is not a day"),
        ({"rule": "lubricate", "day": "2999-01-01"}, "lies ahead"),
    ],
)
def test_care_that_cannot_be_noted_is_told(client, piece, form, sentence):
    answer = client.post(reverse("care_done", args=[piece.pk]), form)
    assert answer.status_code in (400, 404)
    assert sentence in text_of(answer)
    assert not CareDone.objects.exists()


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"what": "own"}, "needs an interval"),
        ({"what": "own", "every_hours": "soon"}, "is not a number"),
        ({"what": "own", "every_hours": "-4"}, "greater than or equal"),
    ],
)
def test_a_rule_without_a_true_interval_is_told(client, piece, form, sentence):
    address = reverse("care_interval", args=[piece.pk])
    answer = client.post(address, {"rule": "lubricate"} | form)
    assert answer.status_code == 400
    assert sentence in text_of(answer)
    assert not CareInterval.objects.exists()


def test_own_intervals_rules_and_switching_off(client, piece):
    address = reverse("care_interval", args=[piece.pk])
    client.post(address, {"rule": "lubricate", "what": "own", "every_hours": "20,5"})
    rule = next(d.rule for d in piece_care(piece) if d.rule.id == "lubricate")
    assert (rule.every_hours, rule.every_months) == (20.5, None)
    client.post(address, {"rule": "tyres", "what": "off"})
    assert "tyres" not in {d.rule.id for d in piece_care(piece)}
    client.post(address, {"rule": "lubricate", "what": "usual"})
    rule = next(d.rule for d in piece_care(piece) if d.rule.id == "lubricate")
    assert rule.every_hours == 40
    form = {"title": "Wax the cab", "every_months": "6"}
    client.post(reverse("piece_care", args=[piece.pk]), form)
    assert "Wax the cab" in text_of(client.get(reverse("piece_care", args=[piece.pk])))
    without = client.post(reverse("piece_care", args=[piece.pk]), {"title": "Wax the cab"})
    assert without.status_code == 400
    assert "care needs an interval" in text_of(without)


def test_the_calendar_is_read_by_an_independent_parser_and_asks_for_its_key(client, piece):
    services.note_care(piece=piece, rule="tyres", done_at=ago(30))
    answer = client.get(reverse("calendar", args=[calendar_key()]))
    assert answer["Content-Type"].startswith("text/calendar")
    events = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
    titles = {str(e["SUMMARY"]) for e in events}
    assert f"{piece}: Look at the tyres" in titles
    assert client.get(reverse("calendar", args=["0" * 32])).status_code == 404


def test_behind_a_passphrase_only_the_calendars_key_opens(client, piece, settings):
    from django.contrib.auth.hashers import make_password

    before = calendar_key()
    settings.OUTSHOP_PASSPHRASE = make_password("open wheel")
    assert client.get(reverse("care")).status_code == 401
    assert client.get(reverse("calendar", args=[before])).status_code == 404
    assert client.get(reverse("calendar", args=[calendar_key()])).status_code == 200


def test_a_tap_is_noted_once_and_can_be_taken_back(client, piece):
    address = reverse("ran_tap", args=[piece.uid])
    for _ in range(2):
        client.post(address, {"quick": "25"})
    assert [entry.minutes for entry in piece.running_log.all()] == [25]
    client.post(reverse("ran_undo", args=[piece.running_log.get().pk]))
    assert not piece.running_log.exists()


@pytest.mark.parametrize("typed", ["", "0", "-5", "ten", "1441", "nan", "1e99"])
def test_minutes_that_cannot_be_are_told_and_stay_typed(client, piece, typed):
    answer = client.post(reverse("ran_tap", args=[piece.uid]), {"minutes": typed})
    assert answer.status_code == 400
    assert 'role="alert"' in text_of(answer)
    assert not piece.running_log.exists()


def test_the_label_carries_the_pieces_name_and_a_label_of_nothing_is_told(client, piece):
    answer = client.get(reverse("ran_labels"), {"piece": piece.pk})
    assert "Invented tank engine 7" in words_of(answer.content)
    gone = client.get(reverse("ran", args=["00000000-0000-0000-0000-000000000000"]))
    assert gone.status_code == 404
    assert "belongs to no piece" in text_of(gone)
    piece.state = "sold"
    piece.save()
    assert client.get(reverse("ran_labels")).status_code == 400


def test_the_drawer_counts_takes_and_never_goes_below_nothing(client, db):
    form = {
        "name": "Tyres",
        "size": "14 mm",
        "in_stock": "1",
        "keep_at_least": "2",
        "unit": "pieces",
    }
    client.post(reverse("stock"), form)
    item = StockItem.objects.get()
    again = client.post(reverse("stock"), form | {"name": " tyres ", "size": "14 MM"})
    assert again.status_code == 400
    assert "is in the list already" in text_of(again)
    client.post(reverse("stock_count", args=[item.pk]), {"what": "take"})
    over = client.post(reverse("stock_count", args=[item.pk]), {"what": "take"})
    assert over.status_code == 400
    assert "Only 0 pieces of Tyres" in text_of(over)
    minus = client.post(reverse("stock_count", args=[item.pk]), {"in_stock": "-3"})
    assert minus.status_code == 400
    item.refresh_from_db()
    assert item.in_stock == 0
    assert "2 pieces" in text_of(client.get(reverse("shopping")))


def test_what_a_job_needs_is_taken_once(client, piece):
    services.add_stock_item(name="Brushes", in_stock=3)
    card = services.add_job(piece=piece, title="Service")
    client.post(reverse("need_new", args=[card.pk]), {"name": "brushes", "amount": "2"})
    need = JobNeed.objects.get()
    for _ in range(2):
        client.post(reverse("need", args=[need.pk]))
    assert StockItem.objects.get().in_stock == 1
    client.post(reverse("need_new", args=[card.pk]), {"name": "Lamp", "amount": "1"})
    assert "Lamp" in text_of(client.get(reverse("stock")))
    lamp = JobNeed.objects.get(name="Lamp")
    answer = client.post(reverse("need", args=[lamp.pk]))
    assert answer.status_code == 400
    assert "not in the drawer" in text_of(answer)
    bad = client.post(reverse("need_new", args=[card.pk]), {"name": "Lamp", "amount": "-1"})
    assert bad.status_code == 400


def test_a_part_comes_out_once_and_is_kept(client, piece):
    client.post(
        reverse("fitted", args=[piece.pk]),
        {"part": "tyres", "name": "first pair", "original": "on", "fitted_on": "2020-01-01"},
    )
    row = FittedPart.objects.get()
    out = reverse("fitted_out", args=[row.pk])
    client.post(out, {"kept_in": "bag 7", "failed": "yes"})
    assert "bag 7" in text_of(client.get(reverse("fitted", args=[piece.pk])))
    again = client.post(out)
    assert again.status_code == 409
    assert "cannot come out again" in text_of(again)


def test_how_long_parts_last_is_silent_until_five_have_failed(client, piece):
    day = timezone.localdate()
    for years in range(1, 7):
        row = services.fit_part(
            piece=piece, part="tyres", fitted_on=day - timedelta(days=365 * (years + 3))
        )
        services.take_part_out(
            fitted=row, removed_on=row.fitted_on + timedelta(days=365 * years), failed=True
        )
        page = text_of(client.get(reverse("stock")))
        assert ("How long parts last" in page) == (years >= 5)


def test_the_least_opening_is_shown_with_its_labels(client, piece):
    address = reverse("strip_down", args=[piece.pk])
    page = text_of(client.get(address, {"part": ["brushes"]}))
    assert page.index("Take the body off") < page.index("Take the brushes out")
    labels = client.get(reverse("bag_labels", args=[piece.pk]), {"part": ["brushes"]})
    words = words_of(labels.content)
    assert "1. Take the body off" in words
    assert "2. Take the brushes out" in words
    assert client.get(address, {"part": ["wing"]}).status_code == 200


def test_a_plan_is_adapted_and_the_job_card_goes_by_it(client, piece):
    new = reverse("removal_new", args=[piece.pk])
    answer = client.post(
        new, {"title": "Lift the roof", "minutes": "2", "reaches": ["lamps"], "first": ["body"]}
    )
    assert answer.status_code == 302
    page = client.get(reverse("strip_down", args=[piece.pk]), {"part": ["lamps"]})
    assert "Lift the roof" in text_of(page)
    card = services.write_job_card(piece=piece, title="x", tasks=["brushes"])
    assert [s.procedure for s in card.steps.filter(phase="strip-down")] == [
        "body.off",
        "brushes.off",
    ]


def test_a_plan_that_would_wait_for_itself_is_refused_with_the_loop(client, piece):
    plan = services.plan_of(piece)
    body = plan.removal("body")
    form = {
        "title": body.title, "minutes": "5", "first": ["brushes"], "reaches": ["chassis"],
    }  # fmt: skip
    answer = client.post(reverse("removal", args=[piece.pk, "body"]), form)
    assert answer.status_code == 400
    assert "would wait for each other" in text_of(answer)
    assert "Take the brushes out" in text_of(answer)
    assert services.kept_plan(piece) is None
    gone = client.post(reverse("removal_drop", args=[piece.pk, "wing"]))
    assert gone.status_code == 404


def test_ten_thousand_entries_need_no_more_queries(client, piece, django_assert_max_num_queries):
    from outshop.records.models import RunningLog

    entries = [RunningLog(piece=piece, minutes=5, ran_at=ago(i / 10)) for i in range(10_000)]
    RunningLog.objects.bulk_create(entries)
    services.note_care(piece=piece, rule="lubricate", done_at=ago(100))
    for address in (
        reverse("care"),
        reverse("piece_care", args=[piece.pk]),
        reverse("ran", args=[piece.uid]),
    ):
        with django_assert_max_num_queries(30):
            assert client.get(address).status_code == 200


def test_readings_of_a_run_in_are_shown_with_the_minutes_left(client, piece):
    run_in = services.plan_run_in(piece=piece)
    began = timezone.now() - timedelta(minutes=9.9)
    services.start_run_in(run_in=run_in, now=began)
    for minute in range(1, 10):
        amp = 0.2 + 0.1 * 2.718 ** (-minute / 2) + 0.001 * (minute % 3)
        services.add_sample(run_in=run_in, current_a=amp, now=began + timedelta(minutes=minute))
    page = text_of(client.get(reverse("run_in", args=[run_in.pk])))
    assert "Still to run, as far as measured" in page
    assert "Nothing is measured yet running reverse" in page
    assert "<svg" in page


def test_standing_is_silent_without_a_past_and_speaks_with_one(client, piece):
    from outshop.estimate import Estimate
    from outshop.records.models import Measurement

    address = reverse("piece", args=[piece.pk])
    for number, level in enumerate((60.1, 59.8, 60.0, 60.3, 59.9, 60.2, 72.0)):
        Measurement.of(
            Estimate.plus_minus(level, 0.3, "dB(A)"), piece=piece, kind="sound", key="level",
            taken_at=ago(400 - 50 * number),
        ).save()  # fmt: skip
        page = text_of(client.get(address))
        assert ("As good as it should be?" in page) == (number >= 5)
    assert "worse than its own past" in page


def test_a_log_of_readings_is_taken_in_once_and_all_or_nothing(client, piece):
    run_in = services.plan_run_in(piece=piece, temperature_limit_c=55)
    address = reverse("run_in_log", args=[run_in.pk])
    lines = "minute,direction,current_a,temperature_c\n1,forward,0.3,25\n2,forward,0.28,26\n"
    for _ in range(2):
        client.post(address, {"log": lines})
    assert run_in.samples.count() == 2
    bad = client.post(address, {"log": lines + "3,forward,0.2,400\n"})
    assert bad.status_code == 400
    assert "Line 4: temperature_c of 400" in text_of(bad)
    assert run_in.samples.count() == 2
    client.post(address, {"log": lines + "3,forward,0.2,61\n"})
    run_in.refresh_from_db()
    assert run_in.state == "stopped"


def test_what_is_found_on_the_way_stands_with_the_findings(client, piece):
    card = services.add_job(piece=piece, title="Service")
    address = reverse("job_found", args=[card.pk])
    answer = client.post(
        address, {"what": "axle:seized", "axle": "2", "note": "fluff"}, follow=True
    )
    assert "Kept: Axle 2: seized." in text_of(answer)
    client.post(address, {"what": "brushes:oily"})
    card.refresh_from_db()
    kept = {f.target: f.state for f in card.inspection.findings.all()}
    assert kept == {"2": "seized", "brushes": "oily"}
    for form, sentence in (
        ({"what": "axle:seized"}, "at which axle"),
        ({"what": "wing:bent"}, "No part is called"),
        ({"what": ""}, "No part is called"),
    ):
        wrong = client.post(address, form)
        assert wrong.status_code in (400, 404)
        assert sentence in text_of(wrong)


def test_one_card_answers_everything_that_is_due(client, piece):
    address = reverse("care_job", args=[piece.pk])
    nothing = client.post(address)
    assert nothing.status_code == 400
    assert "needs a job card" in text_of(nothing)
    for rule in ("lubricate", "tyres"):
        services.note_care(piece=piece, rule=rule, done_at=ago(500))
    answer = client.post(address, follow=True)
    page = text_of(answer)
    assert "Oil the motor bearings" in page
    assert "Fit the new tyre" in page
    card = piece.jobs.get()
    assert [s.procedure for s in card.steps.all()].count("body.off") == 1


def test_the_drawer_says_where_a_part_is_used(client, piece):
    services.add_stock_item(name="Tyres", size="14 mm", in_stock=5)
    services.add_stock_item(name="Lamp", in_stock=5)
    card = services.add_job(piece=piece, title="Service")
    services.add_need(card=card, name="tyres", amount=2)
    page = text_of(client.get(reverse("stock")))
    assert page.count("used in Invented tank engine 7") == 1


def test_every_caution_is_listed_with_its_source(client, db):
    from outshop.workshop.cautions import all_cautions

    page = text_of(client.get(reverse("cautions")))
    for caution in all_cautions():
        assert caution.title in page
    assert page.count("Source:") == len(all_cautions())
    assert "licensed" in page


def test_a_quantity_that_gets_worse_over_the_years_is_named_and_a_better_one_is_not(client, piece):
    from outshop.estimate import Estimate
    from outshop.records.models import Measurement

    for year in range(8):
        for key, level in (("level", 58 + 0.5 * year), ("squeal", 20 - year)):
            Measurement.of(
                Estimate.plus_minus(level + 0.05 * (year % 3), 0.3, "dB(A)"), piece=piece,
                kind="sound", key=key, taken_at=ago(3000 - 365 * year),
            ).save()  # fmt: skip
    for address in (reverse("care"), reverse("piece_care", args=[piece.pk])):
        page = text_of(client.get(address))
        assert "Getting worse over the years" in page
        assert "Running level" in page
        assert "Squeal" not in page
