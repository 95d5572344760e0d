"""What people look at: figures, string layouts, notebooks and pages.

The names below are for notebooks; each is loaded on its first use. A picture or table shows itself
there, and goes into a page made by `yieldkit.run_report`.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    # For those who read the code and don't run it; a test holds it to the table below.
    from yieldkit.report.figures.budget import budget_picture as budget_picture
    from yieldkit.report.figures.budget import difference_picture as difference_picture
    from yieldkit.report.figures.budget import monthly_picture as monthly_picture
    from yieldkit.report.figures.curves import curves_picture as curves_picture
    from yieldkit.report.figures.estimate import bands_picture as bands_picture
    from yieldkit.report.figures.estimate import doubts_picture as doubts_picture
    from yieldkit.report.figures.estimate import estimate_months_picture as estimate_months_picture
    from yieldkit.report.figures.estimate import life_picture as life_picture
    from yieldkit.report.figures.limited_hours import limited_hours_picture as limited_hours_picture
    from yieldkit.report.figures.operating_points import days_picture as days_picture
    from yieldkit.report.figures.operating_points import (
        operating_points_picture as operating_points_picture,
    )
    from yieldkit.report.figures.ranking import draws_picture as draws_picture
    from yieldkit.report.figures.ranking import ranking_picture as ranking_picture
    from yieldkit.report.figures.review import review_hours_picture as review_hours_picture
    from yieldkit.report.figures.review import review_months_picture as review_months_picture
    from yieldkit.report.figures.roof import roof_picture as roof_picture
    from yieldkit.report.figures.roof import roof_table as roof_table
    from yieldkit.report.figures.roofs_by_inverter import roofs_by_inverter as roofs_by_inverter
    from yieldkit.report.figures.shadows import shadows_picture as shadows_picture
    from yieldkit.report.figures.shadows import shadows_table as shadows_table
    from yieldkit.report.figures.string_diagram import strings_picture as strings_picture
    from yieldkit.report.figures.voltages import terminal_picture as terminal_picture
    from yieldkit.report.figures.voltages import voltages_picture as voltages_picture
    from yieldkit.report.figures.wall import wall_pictures as wall_pictures
    from yieldkit.report.figures.what_if import map_picture as map_picture
    from yieldkit.report.figures.what_if import response_picture as response_picture
    from yieldkit.report.figures.what_if import tornado_picture as tornado_picture
    from yieldkit.report.figures.whole import whole as whole
    from yieldkit.report.offer.annex import annex_heading as annex_heading
    from yieldkit.report.offer.annex import annex_light as annex_light
    from yieldkit.report.offer.first_page import offer_first_page as offer_first_page
    from yieldkit.report.offer.second_page import offer_second_page as offer_second_page
    from yieldkit.report.tables.design import counts_table as counts_table
    from yieldkit.report.tables.design import lead_table as lead_table
    from yieldkit.report.tables.design import lengths_table as lengths_table
    from yieldkit.report.tables.design import mountings_table as mountings_table
    from yieldkit.report.tables.design import open_findings_table as open_findings_table
    from yieldkit.report.tables.energy import budget_table as budget_table
    from yieldkit.report.tables.energy import comparison_table as comparison_table
    from yieldkit.report.tables.energy import limits_table as limits_table
    from yieldkit.report.tables.energy import load_table as load_table
    from yieldkit.report.tables.energy import meter_table as meter_table
    from yieldkit.report.tables.energy import months_table as months_table
    from yieldkit.report.tables.estimate import bands_table as bands_table
    from yieldkit.report.tables.estimate import doubts_table as doubts_table
    from yieldkit.report.tables.estimate import estimate_box as estimate_box
    from yieldkit.report.tables.estimate import estimate_heading as estimate_heading
    from yieldkit.report.tables.estimate import estimate_months_table as estimate_months_table
    from yieldkit.report.tables.estimate import estimate_origin as estimate_origin
    from yieldkit.report.tables.estimate import estimate_rests_on as estimate_rests_on
    from yieldkit.report.tables.estimate import life_table as life_table
    from yieldkit.report.tables.estimate import losses_table as losses_table
    from yieldkit.report.tables.estimate import no_losses as no_losses
    from yieldkit.report.tables.estimate import way_table as way_table
    from yieldkit.report.tables.estimate import yields_table as yields_table
    from yieldkit.report.tables.handover import documents_list as documents_list
    from yieldkit.report.tables.handover import first_start as first_start
    from yieldkit.report.tables.handover import handover_box as handover_box
    from yieldkit.report.tables.handover import handover_heading as handover_heading
    from yieldkit.report.tables.handover import instrument_blanks as instrument_blanks
    from yieldkit.report.tables.handover import inverter_title as inverter_title
    from yieldkit.report.tables.handover import order_of_tests as order_of_tests
    from yieldkit.report.tables.handover import plane_blanks as plane_blanks
    from yieldkit.report.tables.handover import rests_on as rests_on
    from yieldkit.report.tables.handover import terminal_plan as terminal_plan
    from yieldkit.report.tables.handover_strings import cloudless_hours as cloudless_hours
    from yieldkit.report.tables.handover_strings import string_cards as string_cards
    from yieldkit.report.tables.html import cautions_box as cautions_box
    from yieldkit.report.tables.html import heading as heading
    from yieldkit.report.tables.html import provenance_table as provenance_table
    from yieldkit.report.tables.html import sentences as sentences
    from yieldkit.report.tables.html import verdict_box as verdict_box
    from yieldkit.report.tables.ranking import answer_box as answer_box
    from yieldkit.report.tables.ranking import best_table as best_table
    from yieldkit.report.tables.ranking import counts_list as counts_list
    from yieldkit.report.tables.ranking import judgement_table as judgement_table
    from yieldkit.report.tables.ranking import strings_table as strings_table
    from yieldkit.report.tables.ranking import unknowns_table as unknowns_table
    from yieldkit.report.tables.review import between_inputs_table as between_inputs_table
    from yieldkit.report.tables.review import fitted_losses_table as fitted_losses_table
    from yieldkit.report.tables.review import left_out_table as left_out_table
    from yieldkit.report.tables.review import plateaus_table as plateaus_table
    from yieldkit.report.tables.review import resistances_table as resistances_table
    from yieldkit.report.tables.review import review_box as review_box
    from yieldkit.report.tables.review import review_heading as review_heading
    from yieldkit.report.tables.review import review_hours_table as review_hours_table
    from yieldkit.report.tables.review import review_inputs_table as review_inputs_table
    from yieldkit.report.tables.review import review_months_table as review_months_table
    from yieldkit.report.tables.review import review_origin as review_origin
    from yieldkit.report.tables.review import review_rests_on as review_rests_on
    from yieldkit.report.tables.review import signs_table as signs_table
    from yieldkit.report.tables.what_if import best_runs_table as best_runs_table
    from yieldkit.report.tables.what_if import effects_table as effects_table
    from yieldkit.report.tables.what_if import failures_table as failures_table
    from yieldkit.report.tables.what_if import what_if_box as what_if_box
    from yieldkit.report.tables.what_if import what_if_heading as what_if_heading

_DOOR = {
    "annex_heading": "yieldkit.report.offer.annex",
    "annex_light": "yieldkit.report.offer.annex",
    "answer_box": "yieldkit.report.tables.ranking",
    "bands_picture": "yieldkit.report.figures.estimate",
    "bands_table": "yieldkit.report.tables.estimate",
    "best_runs_table": "yieldkit.report.tables.what_if",
    "best_table": "yieldkit.report.tables.ranking",
    "between_inputs_table": "yieldkit.report.tables.review",
    "budget_picture": "yieldkit.report.figures.budget",
    "budget_table": "yieldkit.report.tables.energy",
    "cautions_box": "yieldkit.report.tables.html",
    "cloudless_hours": "yieldkit.report.tables.handover_strings",
    "comparison_table": "yieldkit.report.tables.energy",
    "counts_list": "yieldkit.report.tables.ranking",
    "counts_table": "yieldkit.report.tables.design",
    "curves_picture": "yieldkit.report.figures.curves",
    "days_picture": "yieldkit.report.figures.operating_points",
    "difference_picture": "yieldkit.report.figures.budget",
    "documents_list": "yieldkit.report.tables.handover",
    "doubts_picture": "yieldkit.report.figures.estimate",
    "doubts_table": "yieldkit.report.tables.estimate",
    "draws_picture": "yieldkit.report.figures.ranking",
    "effects_table": "yieldkit.report.tables.what_if",
    "estimate_box": "yieldkit.report.tables.estimate",
    "estimate_heading": "yieldkit.report.tables.estimate",
    "estimate_months_picture": "yieldkit.report.figures.estimate",
    "estimate_months_table": "yieldkit.report.tables.estimate",
    "estimate_origin": "yieldkit.report.tables.estimate",
    "estimate_rests_on": "yieldkit.report.tables.estimate",
    "failures_table": "yieldkit.report.tables.what_if",
    "first_start": "yieldkit.report.tables.handover",
    "fitted_losses_table": "yieldkit.report.tables.review",
    "handover_box": "yieldkit.report.tables.handover",
    "handover_heading": "yieldkit.report.tables.handover",
    "heading": "yieldkit.report.tables.html",
    "instrument_blanks": "yieldkit.report.tables.handover",
    "inverter_title": "yieldkit.report.tables.handover",
    "judgement_table": "yieldkit.report.tables.ranking",
    "lead_table": "yieldkit.report.tables.design",
    "left_out_table": "yieldkit.report.tables.review",
    "lengths_table": "yieldkit.report.tables.design",
    "life_picture": "yieldkit.report.figures.estimate",
    "life_table": "yieldkit.report.tables.estimate",
    "limited_hours_picture": "yieldkit.report.figures.limited_hours",
    "limits_table": "yieldkit.report.tables.energy",
    "load_table": "yieldkit.report.tables.energy",
    "losses_table": "yieldkit.report.tables.estimate",
    "map_picture": "yieldkit.report.figures.what_if",
    "meter_table": "yieldkit.report.tables.energy",
    "monthly_picture": "yieldkit.report.figures.budget",
    "months_table": "yieldkit.report.tables.energy",
    "mountings_table": "yieldkit.report.tables.design",
    "no_losses": "yieldkit.report.tables.estimate",
    "offer_first_page": "yieldkit.report.offer.first_page",
    "offer_second_page": "yieldkit.report.offer.second_page",
    "open_findings_table": "yieldkit.report.tables.design",
    "operating_points_picture": "yieldkit.report.figures.operating_points",
    "order_of_tests": "yieldkit.report.tables.handover",
    "plane_blanks": "yieldkit.report.tables.handover",
    "plateaus_table": "yieldkit.report.tables.review",
    "provenance_table": "yieldkit.report.tables.html",
    "ranking_picture": "yieldkit.report.figures.ranking",
    "resistances_table": "yieldkit.report.tables.review",
    "response_picture": "yieldkit.report.figures.what_if",
    "rests_on": "yieldkit.report.tables.handover",
    "review_box": "yieldkit.report.tables.review",
    "review_heading": "yieldkit.report.tables.review",
    "review_hours_picture": "yieldkit.report.figures.review",
    "review_hours_table": "yieldkit.report.tables.review",
    "review_inputs_table": "yieldkit.report.tables.review",
    "review_months_picture": "yieldkit.report.figures.review",
    "review_months_table": "yieldkit.report.tables.review",
    "review_origin": "yieldkit.report.tables.review",
    "review_rests_on": "yieldkit.report.tables.review",
    "roof_picture": "yieldkit.report.figures.roof",
    "roof_table": "yieldkit.report.figures.roof",
    "roofs_by_inverter": "yieldkit.report.figures.roofs_by_inverter",
    "sentences": "yieldkit.report.tables.html",
    "shadows_picture": "yieldkit.report.figures.shadows",
    "shadows_table": "yieldkit.report.figures.shadows",
    "signs_table": "yieldkit.report.tables.review",
    "string_cards": "yieldkit.report.tables.handover_strings",
    "strings_picture": "yieldkit.report.figures.string_diagram",
    "strings_table": "yieldkit.report.tables.ranking",
    "terminal_picture": "yieldkit.report.figures.voltages",
    "terminal_plan": "yieldkit.report.tables.handover",
    "tornado_picture": "yieldkit.report.figures.what_if",
    "unknowns_table": "yieldkit.report.tables.ranking",
    "verdict_box": "yieldkit.report.tables.html",
    "voltages_picture": "yieldkit.report.figures.voltages",
    "wall_pictures": "yieldkit.report.figures.wall",
    "way_table": "yieldkit.report.tables.estimate",
    "what_if_box": "yieldkit.report.tables.what_if",
    "what_if_heading": "yieldkit.report.tables.what_if",
    "whole": "yieldkit.report.figures.whole",
    "yields_table": "yieldkit.report.tables.estimate",
}

__all__ = sorted(_DOOR)


def __getattr__(name: str) -> Any:
    """Load a public name from its room on first use."""
    if name not in _DOOR:
        raise AttributeError(f"module 'yieldkit.report' has no attribute '{name}'")
    return getattr(import_module(_DOOR[name]), name)


def __dir__() -> list[str]:
    """List the public names only."""
    return sorted(_DOOR)
