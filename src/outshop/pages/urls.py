"""Addresses of the pages: one line a topic, each topic keeps its own list."""

from django.urls import URLPattern, URLResolver, include, path

TOPICS = (
    "home",
    "shelf",
    "piece",
    "piece_state",
    "photo",
    "inspection",
    "recording",
    "sound",
    "compare",
    "trouble",
    "learnt",
    "job",
    "run_in",
    "release",
    "history",
    "strip_down",
    "stock",
    "running",
    "care",
    "dating",
    "market",
    "meter",
    "formation",
    "motion",
    "speeds",
    "clocks",
)

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include(f"outshop.pages.{topic}")) for topic in TOPICS
]
