"""Addresses of offers, prices, values and papers."""

from django.urls import path

from outshop.pages.market import lots, papers, prices, values

urlpatterns = [
    path("offers/", lots.show_all, name="offers"),
    path("offers/new/", lots.new, name="lot_new"),
    path("offers/<int:pk>/", lots.show, name="lot"),
    path("offers/<int:pk>/edit/", lots.edit, name="lot_edit"),
    path("offers/<int:pk>/picture/", lots.add_picture, name="lot_picture"),
    path("offers/<int:pk>/repairs/", lots.propose_repairs, name="lot_repairs"),
    path("offers/<int:pk>/buy/", lots.buy, name="lot_buy"),
    path("offers/<int:pk>/remove/", lots.remove, name="lot_remove"),
    path("offers/<int:pk>/claims.pdf", papers.claims, name="claims_pdf"),
    path("prices/", prices.show, name="prices"),
    path("prices/table/", prices.import_table, name="prices_import"),
    path("prices/table.csv", prices.export_table, name="prices_export"),
    path("prices/<int:pk>/remove/", prices.remove, name="price_remove"),
    path("piece/<int:pk>/value/", values.show, name="value"),
    path("value/<int:pk>/remove/", values.remove, name="value_remove"),
    path("schedule/", values.schedule, name="schedule"),
    path("collection/", values.collection, name="collection"),
    path("collection.csv", values.private_table, name="collection_private"),
    path("heirs.pdf", papers.heirs, name="heirs_pdf"),
    path("schedule.pdf", papers.schedule, name="schedule_pdf"),
    path("piece/<int:pk>/dossier.pdf", papers.dossier, name="dossier_pdf"),
    path("piece/<int:pk>/card.pdf", papers.card, name="card_pdf"),
    path("labels.pdf", papers.labels, name="labels_pdf"),
]
