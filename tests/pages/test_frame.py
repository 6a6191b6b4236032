"""What every page has: the head, the policy, sentences, error pages."""

import pytest
from bs4 import BeautifulSoup
from django.template import Context, Template
from django.urls import reverse

from outshop.errors import StoreError
from outshop.estimate import Estimate, NotMeasurable
from outshop.pages import nav
from outshop.records import services


def test_the_first_page_of_an_empty_collection_says_how_to_begin(client, db):
    page = client.get("/").content.decode()
    assert "How it goes" in page
    assert reverse("piece_new") in page


def test_the_head_names_only_places_that_exist_and_marks_where_one_is(client, db):
    for place in nav.PLACES:
        address = reverse(place.url_name)
        page = BeautifulSoup(client.get(address).content, "html.parser")
        here = page.select("header nav [aria-current=page]")
        assert [a["href"] for a in here] == [address]
        for link in page.select("header nav a"):
            assert client.get(link["href"]).status_code == 200


def test_every_page_carries_the_strict_policy(client, piece):
    for address in ("/", "/shelf/", reverse("piece", args=[piece.pk]), "/nowhere/"):
        policy = client.get(address).headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy


@pytest.mark.parametrize(
    "address",
    ["/piece/12345/", "/recording/9/", "/job/9/", "/run-in/9/", "/inspection/9/", "/release/9/"],
)
def test_a_number_that_leads_nowhere_is_a_sentence_with_a_way_on(client, db, address):
    answer = client.get(address)
    page = BeautifulSoup(answer.content, "html.parser")
    assert answer.status_code == 404
    assert page.select_one("[data-sentence]").text.endswith(".")
    assert page.select_one(f'main a[href="{reverse("bench")}"]')


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("the disk is full", "The disk is full."),
        ("Done.", "Done."),
        ("run.wav is empty", "run.wav is empty."),
        ("why?", "Why?"),
        ("", ""),
    ],
)
def test_errors_are_written_as_sentences(text, said):
    shown = Template("{% load outshop %}{{ text|sentence }}").render(Context({"text": text}))
    assert shown == said


def test_a_reading_shows_interval_and_unit_or_the_reason():
    draw = Template("{% load outshop %}{{ r|reading }}")
    shown = draw.render(Context({"r": Estimate.plus_minus(57.23, 0.31, "dB(A)")}))
    assert BeautifulSoup(shown, "html.parser").text.split() == ["57.2", "±0.3", "dB(A)"]
    none = draw.render(Context({"r": NotMeasurable("<too quiet>", "dB(A)")}))
    assert "&lt;too quiet&gt;" in none


@pytest.mark.parametrize(
    ("address", "local"),
    [
        ("http://evil.example/piece/1/?a=b", "/piece/1/?a=b"),
        ("", "/"),
        (None, "/"),
        ("//x/y", "/y"),
    ],
)
def test_the_way_back_never_leaves_this_machine(address, local):
    draw = Template("{% load outshop %}{{ a|local_address }}")
    assert draw.render(Context({"a": address})) == local


def test_a_language_without_translation_still_shows_the_page(client, db):
    assert client.get("/", headers={"Accept-Language": "de,fr;q=0.5"}).status_code == 200


def test_a_store_that_cannot_be_written_offers_to_send_the_same_form_again(client, db, monkeypatch):
    def full(**_fields):
        raise StoreError("the disk is full: nothing was changed")

    with monkeypatch.context() as broken:
        broken.setattr(services, "add_piece", full)
        form = {"name": "Typed with care", "kind": "steam", "state": "arrived", "notes": "a\nb"}
        answer = client.post(reverse("piece_new"), form)
    page = BeautifulSoup(answer.content, "html.parser")
    assert answer.status_code == 503
    again = page.select_one("main form")
    sent = {field["name"]: field["value"] for field in again.select("input[name]")}
    assert {key: sent[key].replace("\r\n", "\n") for key in form} == form
    sent.pop("csrfmiddlewaretoken", None)
    assert client.post(again["action"], sent).status_code == 302


def test_an_address_that_only_takes_forms_says_so_when_it_is_opened(client, piece):
    answer = client.get(reverse("inspection_new", args=[piece.pk]))
    page = BeautifulSoup(answer.content, "html.parser")
    assert answer.status_code == 405
    assert answer["Allow"] == "POST"
    assert "only takes what a form sends" in page.select_one("[data-sentence]").text
