"""Addresses of the shelf's part of the API."""

from django.urls import URLPattern, path

from inventory.ledger.api import postings
from inventory.materials import api as reference
from inventory.purchasing import api as deliveries
from inventory.recipes.api import mixes, recipes
from inventory.reordering import api as alerts
from inventory.sessions.api import plan as enough
from inventory.sessions.api import pours, sessions
from inventory.stock.api import lots, materials, stocktakes

urlpatterns: list[URLPattern] = [
    path("materials/", materials.MaterialList.as_view(), name="api-materials"),
    path("materials/<int:pk>/", materials.MaterialDetail.as_view(), name="api-material"),
    path("lots/", lots.LotList.as_view(), name="api-lots"),
    path("lots/<int:pk>/", lots.LotDetail.as_view(), name="api-lot"),
    path("enough/", enough.Enough.as_view(), name="api-enough"),
    path("deliveries/", deliveries.DeliveryList.as_view(), name="api-deliveries"),
    path("deliveries/<int:pk>/", deliveries.DeliveryDetail.as_view(), name="api-delivery"),
    path("recipes/", recipes.RecipeList.as_view(), name="api-recipes"),
    path("recipes/<int:pk>/", recipes.RecipeDetail.as_view(), name="api-recipe"),
    path("mixes/", mixes.MixList.as_view(), name="api-mixes"),
    path("mixes/<int:pk>/", mixes.MixDetail.as_view(), name="api-mix"),
    path("sessions/", sessions.SessionList.as_view(), name="api-sessions"),
    path("sessions/<int:pk>/", sessions.SessionDetail.as_view(), name="api-session"),
    path("pours/", pours.PourList.as_view(), name="api-pours"),
    path("pours/<int:pk>/", pours.PourDetail.as_view(), name="api-pour"),
    path("stocktakes/", stocktakes.StocktakeList.as_view(), name="api-stocktakes"),
    path("stocktakes/<int:pk>/", stocktakes.StocktakeDetail.as_view(), name="api-stocktake"),
    path("write-offs/", postings.WriteOff.as_view(), name="api-write-offs"),
    path("postings/", postings.PostingList.as_view(), name="api-postings"),
    path("postings/<int:number>/", postings.PostingDetail.as_view(), name="api-posting"),
    path("postings/<int:number>/reverse/", postings.PostingReverse.as_view(), name="api-posting-reverse"),
    path("alerts/", alerts.AlertList.as_view(), name="api-alerts"),
    path("suppliers/", reference.SupplierList.as_view(), name="api-suppliers"),
    path("techniques/", reference.TechniqueList.as_view(), name="api-techniques"),
    path("reasons/", reference.ReasonList.as_view(), name="api-reasons"),
]
