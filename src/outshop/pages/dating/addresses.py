"""Addresses of the dating pages."""

from django.urls import path

from outshop.pages.dating import editing, tables, years

urlpatterns = [
    path("piece/<int:pk>/years/", years.show, name="years"),
    path("piece/<int:pk>/years/evidence/", editing.add_evidence, name="evidence_add"),
    path("evidence/<int:pk>/", editing.edit_evidence, name="evidence_edit"),
    path("evidence/<int:pk>/photo/", editing.add_photo, name="evidence_photo"),
    path("evidence/<int:pk>/remove/", editing.remove_evidence, name="evidence_remove"),
    path("piece/<int:pk>/years/seen/", editing.add_seen, name="evidence_seen"),
    path("piece/<int:pk>/years/shows/", editing.add_shown, name="evidence_shown"),
    path("piece/<int:pk>/years/table/", tables.import_evidence, name="evidence_import"),
    path("piece/<int:pk>/years/evidence.csv", tables.export_evidence, name="evidence_export"),
    path("piece/<int:pk>/years/features/", tables.import_features, name="features_import"),
    path("piece/<int:pk>/years/features.csv", tables.export_features, name="features_export"),
    path("piece/<int:pk>/years/prototype/", editing.prototype, name="prototype_edit"),
    path("piece/<int:pk>/years/event/", editing.add_event, name="event_add"),
    path("event/<int:pk>/remove/", editing.remove_event, name="event_remove"),
    path("piece/<int:pk>/years/question/", editing.add_research, name="research_add"),
    path("question/<int:pk>/", editing.edit_research, name="research_edit"),
    path("question/<int:pk>/photo/", editing.add_research_photo, name="research_photo"),
    path("question/<int:pk>/remove/", editing.remove_research, name="research_remove"),
]
