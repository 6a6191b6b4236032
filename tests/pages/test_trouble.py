"""The page of a trouble: answers in, causes ranked at once, a job card and a lesson out."""

import pytest
from bs4 import BeautifulSoup
from django.core.files.uploadedfile import SimpleUploadedFile

from outshop.estimate import Estimate
from outshop.records import queries, services
from outshop.records.models import CauseCounts, JobCard, Piece, Trouble

pytestmark = pytest.mark.django_db


@pytest.fixture(name="piece")
def _piece() -> Piece:
    return services.add_piece(name="Invented tank engine", arrangement="1'C1'")


@pytest.fixture(name="trouble")
def _trouble(piece) -> Trouble:
    return services.open_trouble(piece=piece, system="dc2")


def text_of(response):
    return " ".join(BeautifulSoup(response.content, "html.parser").get_text(" ").split())


def page(client, trouble, tail=""):
    return client.get(f"/trouble/{trouble.pk}/{tail}")


def send(client, trouble, tail, data, **headers):
    return client.post(f"/trouble/{trouble.pk}/{tail}/", data, headers=headers)


def first_cause(response):
    soup = BeautifulSoup(response.content, "html.parser")
    return soup.select_one(".causes .name").get_text()


def test_a_trouble_begins_on_the_piece_and_shows_the_first_look(client, piece):
    response = client.post(f"/piece/{piece.pk}/trouble/", {"form_token": "t"}, follow=True)
    assert "The first look" in text_of(response)
    client.post(f"/piece/{piece.pk}/trouble/", {"form_token": "t"})
    assert Trouble.objects.count() == 1
    assert "Troubles" in text_of(client.get(f"/piece/{piece.pk}/"))


def test_every_owner_s_sign_is_asked_with_three_answers(client, trouble):
    soup = BeautifulSoup(page(client, trouble).content, "html.parser")
    asked = soup.select("#questions fieldset.tri")
    assert len(asked) == 76
    assert all(len(f.select("input[type=radio]")) == 3 for f in asked)


def test_an_answer_ranks_the_causes_at_once(client, trouble):
    response = send(
        client, trouble, "answer", {"answer-motor_runs_no_drive": "yes"}, **{"HX-Request": "true"}
    )
    assert response.status_code == 200
    assert "<html" not in response.content.decode()
    assert "gear" in first_cause(response).lower()
    trouble.refresh_from_db()
    assert trouble.answers == {"motor_runs_no_drive": True}


def test_an_answer_is_changed_and_taken_back(client, trouble):
    for said, kept in (("yes", {"jerky": True}), ("no", {"jerky": False}), ("", {})):
        send(client, trouble, "answer", {"answer-jerky": said})
        trouble.refresh_from_db()
        assert trouble.answers == kept


def test_an_answer_beside_the_check_moves_the_question_too(client, trouble):
    data = {"answer-wheels_locked": "yes", "asked": "check"}
    response = send(client, trouble, "answer", data, **{"HX-Request": "true"})
    soup = BeautifulSoup(response.content, "html.parser")
    moved = soup.select_one("#q-wheels_locked")
    assert moved["hx-swap-oob"] == "true"
    assert moved.select_one("input[checked]")["value"] == "yes"


def test_stop_signs_come_first(client, trouble):
    send(client, trouble, "answer", {"answer-smoke_smell": "yes"})
    soup = BeautifulSoup(page(client, trouble).content, "html.parser")
    reading = soup.select_one("#reading")
    first = reading.find(class_=["stop-sign", "next"])
    assert "stop-sign" in first["class"]
    assert "under power" not in reading.select_one(".next").get_text()


@pytest.mark.parametrize(
    ("tail", "data", "words"),
    [
        ("answer", {"answer-nonsense": "yes"}, "nonsense"),
        ("answer", {"answer-jerky": "perhaps"}, "yes, no or not looked"),
        ("measured", {"key": "light_current_a", "value": "much"}, "not a number"),
        ("measured", {"key": "light_current_a", "value": "-1"}, "negative"),
        ("measured", {"key": "unknown", "value": "1"}, "measured"),
        ("measured", {"key": "winding_verdict", "value": "fine"}, "even"),
        ("model", {"system": "steam", "motor": "unknown"}, "steam"),
        ("model", {"system": "dc2", "motor": "unknown", "decade": "12"}, "1840"),
        ("job", {"cause": "nothing"}, "nothing"),
        ("confirm", {"cause": "nothing"}, "nothing"),
    ],
)
def test_what_cannot_be_used_is_said(client, trouble, tail, data, words):
    response = send(client, trouble, tail, data)
    assert response.status_code == 400
    assert words in text_of(response)


def test_model_and_meter_count(client, trouble):
    send(client, trouble, "model", {"system": "ac3", "motor": "field-coil", "decade": "1955"})
    send(client, trouble, "measured", {"key": "temperature_c", "value": "71,5"})
    shown = text_of(page(client, trouble))
    assert "Too hot for a finger" in shown
    assert "71.5" in shown
    send(client, trouble, "measured", {"key": "temperature_c", "value": ""})
    assert "Too hot for a finger" not in text_of(page(client, trouble))
    trouble.refresh_from_db()
    assert (trouble.system, trouble.decade) == ("ac3", 1955)


def test_the_inspection_speaks_and_an_own_answer_outweighs_it(client, piece, trouble):
    inspection = services.add_inspection(piece=piece)
    services.set_finding(
        inspection=inspection, target_kind="part", target="commutator", state="dirty"
    )
    assert "visible_carbon_comm" in queries.case_of(trouble).yes
    assert "known from elsewhere" in text_of(page(client, trouble))
    services.answer_sign(trouble=trouble, sign="visible_carbon_comm", answer=False)
    trouble.refresh_from_db()
    assert "visible_carbon_comm" in queries.case_of(trouble).no


def test_a_cause_becomes_a_job_card_with_its_check_and_remedy(client, trouble):
    response = send(client, trouble, "job", {"cause": "commutator_dirty", "form_token": "x"})
    card = JobCard.objects.get()
    assert response.url == f"/job/{card.pk}/"
    titles = [s.title for s in card.steps.all()]
    assert titles.index("Wipe the commutator clean and measure again") + 1 == titles.index(
        "Commutator dirty with carbon and oil varnish"
    )
    for step in card.steps.exclude(reverses=None):
        assert step.reverses.phase == "strip-down"
    send(client, trouble, "job", {"cause": "commutator_dirty", "form_token": "x"})
    assert JobCard.objects.count() == 1


def test_a_confirmed_cause_teaches_and_can_be_taken_back(client, piece, trouble):
    other = services.open_trouble(piece=piece, system="dc2")

    def chance():
        return dict(queries.diagnosis_of(other).groups)["zinc_pest"]

    before = chance()
    assert "It was" in text_of(
        client.post(f"/trouble/{trouble.pk}/confirm/", {"cause": "zinc_pest_castings"}, follow=True)
    )
    assert chance() > before
    send(client, trouble, "confirm", {"cause": ""})
    assert chance() == pytest.approx(before)


def test_the_whole_reasoning_is_printable(client, trouble):
    send(client, trouble, "answer", {"answer-once_per_rev": "yes", "answer-jerky": "no"})
    shown = text_of(page(client, trouble, "reasoning/"))
    for words in ("log-odds", "Settled by", "Second reading", "a hitch once in each wheel turn"):
        assert words in shown


def test_a_trouble_can_be_taken_back(client, trouble):
    send(client, trouble, "remove", {})
    assert not Trouble.objects.exists()


def test_causes_are_marked_at_their_axles(client, trouble):
    send(client, trouble, "answer", {"answer-half_axle_turns": "yes"})
    drawing = BeautifulSoup(page(client, trouble).content, "html.parser").select_one(".axle-sheet")
    assert drawing.get_text().count("%") >= 3


def counts_file(text):
    return SimpleUploadedFile("friend.json", text.encode(), content_type="application/json")


def test_lessons_are_shown_exported_taken_over_and_taken_back(client, trouble):
    assert "No cause was confirmed yet" in text_of(client.get("/learnt/"))
    services.confirm_cause(trouble=trouble, cause="gear_worn")
    shown = text_of(client.get("/learnt/"))
    assert "Teeth worn" in shown
    counts = client.get("/learnt/counts.json").content.decode()
    assert "Invented" not in counts
    client.post("/learnt/take/", {"file": counts_file(counts), "name": "club"})
    assert queries.experience().counts() == {"gear_worn": 2}
    client.post(f"/learnt/{CauseCounts.objects.get().pk}/forget/")
    assert queries.experience().counts() == {"gear_worn": 1}


@pytest.mark.parametrize("text", ["{", "[]", "x" * 300_000], ids=["no JSON", "a list", "too long"])
def test_a_file_that_holds_no_counts_is_refused(client, text):
    response = client.post("/learnt/take/", {"file": counts_file(text)})
    assert response.status_code == 400
    assert not CauseCounts.objects.exists()


def test_typed_readings_of_the_piece_count_and_an_own_one_outweighs_them(client, piece, trouble):
    services.add_measurement(
        piece=piece, kind="typed", key="temperature_c", reading=Estimate.exact(80, "degC")
    )
    assert queries.case_of(trouble).measured["temperature_c"].value == 80
    assert "known from elsewhere" in text_of(page(client, trouble))
    services.set_measured(trouble=trouble, key="temperature_c", value=30.0)
    assert queries.case_of(trouble).measured["temperature_c"].value == 30


def test_a_second_trouble_takes_over_what_the_model_is(piece, trouble):
    services.change_trouble(trouble=trouble, motor="field-coil", decade=1955)
    second = services.open_trouble(piece=piece)
    assert (second.system, second.motor, second.decade) == ("dc2", "field-coil", 1955)


def test_a_finished_job_asks_whether_that_was_it(client, trouble):
    send(client, trouble, "job", {"cause": "gear_worn"})
    assert "Was it this" not in text_of(page(client, trouble))
    card = JobCard.objects.get()
    for step in card.steps.all():
        services.tick_step(step=step)
    services.finish_job(card=card)
    assert "Was it this: Teeth worn, hooked or stripped?" in text_of(page(client, trouble))
    send(client, trouble, "confirm", {"cause": "gear_worn"})
    assert "Was it this" not in text_of(page(client, trouble))


def test_the_meter_page_speaks_too(client, piece, trouble):
    """Readings typed on the meter page reach the case: winding verdict and motor findings."""
    winding = {"verdict": "open", "findings": ["winding-open"]}
    motor = {"findings": ["magnet-weak", "drive-holds"]}
    for kind, key, result in (("winding", "coil_1", winding), ("motor", "resistance", motor)):
        services.add_measurement(
            piece=piece, kind=kind, key=key, reading=Estimate.exact(4, "ohm"), result=result
        )
    case = queries.case_of(trouble)
    assert case.measured["winding_verdict"] == "open"
    assert "motor_constant_low" in case.yes
    assert "wheels_lag_motor" in case.no
    assert "known from elsewhere" in text_of(page(client, trouble))
