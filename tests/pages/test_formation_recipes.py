"""A person's own kind of train: by a form, as text, from a file; a faulty one is told."""

import pytest
from bs4 import BeautifulSoup
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from outshop.formation.recipes import source_of
from outshop.pages.formation.kind_names import GROUPS, NAMES
from outshop.records.models import TrainRecipe
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services

pytestmark = pytest.mark.django_db

RECIPE = """
id = "milk"
name = "milk train"
kinds = ["tank", "brake-van"]

[[rule]]
id = "van"
test = "count"
select = ["brake-van"]
min = 1
strength = "forbidden"
why = "a brake van goes with the milk"
source = "my own"
"""


def page(client: Client, address: str) -> BeautifulSoup:
    answer = client.get(address)
    assert answer.status_code == 200
    return BeautifulSoup(answer.content, "html.parser")


def test_a_simple_kind_of_train_is_made_by_a_form_and_a_train_is_made_up_by_it(client):
    sent = {"what": "form", "name": 'The "milk" train', "kinds": ["tank", "brake-van"],
            "must": "brake-van", "last": "brake-van", "most_axles": "6"}  # fmt: skip
    assert client.post("/recipe/new/", sent).status_code == 302
    recipe = queries.own_recipes()["the-milk-train"]
    assert recipe.name == 'The "milk" train'
    assert recipe.kinds == ("tank", "brake-van")
    assert [r.test for r in recipe.rules] == ["count", "place", "axles"]
    line = services.add_line(name="Attic")
    services.set_sections(line=line, sections=[{"length_mm": 2000}])
    for n, kind in enumerate(("tank", "tank", "tank", "tank", "brake-van", "open")):
        services.add_vehicle(
            name=f"{kind} {n}", kind=kind, length_mm=100, mass_g=50, front="loop", rear="loop"
        )
    choices = page(client, "/train/new/").select("select[name=recipe] option")
    assert "the-milk-train" in [o["value"] for o in choices]
    train = services.add_formation(
        name="Milk", line=line, engine_length_mm=100, engine_mass_g=200, pull_g=60,
        recipe="the-milk-train",
    )  # fmt: skip
    offered = page(client, f"/train/{train.pk}/choices/?now=1")
    order = offered.select_one("button[name=order]")["value"]
    client.post(f"/train/{train.pk}/put/", {"order": order})
    kinds = [v.kind for v in queries.train_of(train)]
    assert kinds == ["tank", "tank", "brake-van"]  # six axles, the van last, no open wagon
    assert "A brake van goes" not in offered.get_text()
    assert 'The "milk" train' in page(client, f"/train/{train.pk}/").get_text()


def test_a_form_that_asks_for_what_may_not_run_is_shown_again(client):
    sent = {"what": "form", "name": "Milk", "kinds": ["tank"], "must": "brake-van",
            "first_year": "1960", "last_year": "1950"}  # fmt: skip
    answer = client.post("/recipe/new/", sent)
    assert answer.status_code == 400
    text = answer.content.decode()
    assert "Tick brake van above as well" in text
    assert "This year lies before the first" in text
    assert 'value="Milk"' in text
    assert not TrainRecipe.objects.exists()


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ('kinds = ["tank", "brake-van"]|kinds = ["airship"]', "there is no kind"),
        ('test = "count"|test = "weigh"', "there is no test"),
        ('strength = "forbidden"|strength = "dire"', "strength"),
        ('source = "my own"|', "has no source"),
        ("min = 1|min = -1", "whole number of 0 or more"),
        ("min = 1|faster_than = 'very'", "must be a speed in km/h"),
        ("min = 1|months = [13]", "must be a list of months"),
        ("[[rule]]|[rule]", "one [[rule]] for each rule"),
        ('name = "milk train"|', "has no name"),
        ('id = "milk"|id = "milk', "is not TOML"),
        ('id = "milk"|id = "express"', "comes with Outshop"),
        ('name = "milk train"|name = "milk train"\ncountry = "D"', "must be a list of countries"),
    ],
)
def test_a_faulty_recipe_is_refused_with_a_sentence_and_what_was_typed(client, change, sentence):
    old, new = change.split("|")
    assert old in RECIPE
    typed = RECIPE.replace(old, new, 1)
    answer = client.post("/recipe/new/", {"what": "text", "text": typed})
    assert answer.status_code == 400
    shown = BeautifulSoup(answer.content, "html.parser")
    assert sentence in shown.select_one(".notice.wrong:not(#said)").get_text()
    assert shown.select_one("textarea").get_text().strip() == typed.strip()
    assert not TrainRecipe.objects.exists()


def test_a_recipe_is_changed_renamed_and_taken_away_only_when_no_train_follows_it(client):
    client.post("/recipe/new/", {"what": "text", "text": RECIPE})
    kept = TrainRecipe.objects.get()
    line = services.add_line(name="Attic")
    train = services.add_formation(name="Milk", line=line, engine_length_mm=100,
                                   engine_mass_g=200, pull_g=60, recipe="milk")  # fmt: skip
    renamed = RECIPE.replace('id = "milk"', 'id = "dairy"')
    assert client.post(f"/recipe/{kept.pk}/", {"text": renamed}).status_code == 302
    train.refresh_from_db()
    assert train.recipe == "dairy"  # the train goes on following it
    assert client.post(f"/recipe/{kept.pk}/", {"what": "remove"}).status_code == 400
    services.remove_formation(formation=train)
    assert client.post(f"/recipe/{kept.pk}/", {"what": "remove"}).status_code == 302
    assert not TrainRecipe.objects.exists()


def test_two_recipes_never_share_an_id(client):
    for text in (RECIPE, RECIPE.replace('"milk"', '"cream"', 1)):
        client.post("/recipe/new/", {"what": "text", "text": text})
    assert client.post("/recipe/new/", {"what": "text", "text": RECIPE}).status_code == 400
    cream = TrainRecipe.objects.get(key="cream")
    answer = client.post(f"/recipe/{cream.pk}/", {"text": RECIPE})
    assert answer.status_code == 400
    assert "have a recipe 'milk' already" in BeautifulSoup(answer.content, "html.parser").get_text()


def test_a_file_is_taken_and_one_that_is_no_text_is_refused(client):
    good = SimpleUploadedFile("milk.toml", b"\xef\xbb\xbf" + RECIPE.encode())
    assert client.post("/recipe/new/", {"what": "text", "file": good}).status_code == 302
    assert TrainRecipe.objects.get().key == "milk"
    bad = SimpleUploadedFile("photo.toml", b"\xff\xd8\xff\xe0\x00")
    assert client.post("/recipe/new/", {"what": "text", "file": bad}).status_code == 400


def test_a_shipped_recipe_is_shown_in_words_and_its_copy_is_kept_under_a_new_id(client):
    shown = page(client, "/recipe/shipped/branch-passenger/").get_text()
    assert "Fourth class was abolished in 1928" in shown
    assert "coaches of all kinds" in shown
    copy = page(client, "/recipe/new/?from=branch-passenger").textarea.get_text()
    assert client.post("/recipe/new/", {"what": "text", "text": copy}).status_code == 302
    mine = queries.own_recipes()["my-branch-passenger"]
    assert len(mine.rules) == source_of("branch-passenger").count("[[rule]]")
    assert client.get("/recipe/shipped/airship/").status_code == 404


def test_a_recipe_that_no_longer_reads_is_shown_as_such_and_can_be_mended(client):
    kept = TrainRecipe.objects.create(key="old", text=RECIPE.replace("brake-van", "gone-kind"))
    assert "cannot be used" in page(client, "/recipes/").get_text()
    assert (
        "gone-kind"
        in page(client, f"/recipe/{kept.pk}/").select_one(".notice:not(#said)").get_text()
    )
    assert "old" not in queries.own_recipes()
    assert client.post(f"/recipe/{kept.pk}/", {"text": RECIPE}).status_code == 302


def test_no_word_of_a_recipe_is_a_kind_and_a_group_at_once():
    assert not set(NAMES) & set(GROUPS)
