"""The customer's pages in English."""

from __future__ import annotations

WORDS: dict[str, str] = {
    # What the page is called, and whom it is for.
    "title": "What your solar plant yields",
    "offer": "Offer",
    "offer number": "Offer no.",
    "customer": "Customer",
    "date": "Date",
    "valid until": "Valid until",
    "place": "Plant",
    # The year.
    "years": "Energy in the first year",
    "likely": "likely",
    "cautious": "cautious",
    "likely year": "Likely year",
    "cautious year": "Cautious year",
    "likely means": "Half of all cases yield more.",
    "cautious means": "Nine of ten cases yield more.",
    "per kwp": "{energy} per kWp",
    "years explained": (
        "Both are read from {draws} calculated cases. From one to the next, the weather of the "
        "year differs, and everything else that nobody knows exactly before building."
    ),
    # On what it rests.
    "rests on": "What these figures rest on",
    "rated power": "Rated power",
    "rated power said": "{kwp} in {modules} modules",
    "not wired": "{kwp} in {modules} modules, {wired} of them connected",
    "kwp": "kWp",
    "inverter": "Inverter",
    "weather": "Weather",
    "years of weather": "{title} ({years} years)",
    "between years": "Between years",
    "measured years": ("The years at hand differ by {percent} in sunlight (standard deviation)."),
    "stated": "Years are taken to differ by {percent} in sunlight (standard deviation).",
    "blocks of days": (
        "The weather is one single year. Real years differ more than is reckoned here: the "
        "cautious year may turn out lower than shown."
    ),
    "few years": "So few years hardly tell how much years differ.",
    "ageing": "Ageing",
    "ageing said": "The modules lose {percent} of their power a year; {years} years are reckoned.",
    "outages": "Outages",
    "no outages": "None are reckoned. A plant that stands still yields less.",
    "outages said": "The plant is taken to run {percent} of the time.",
    "outages by month": "Standstill is reckoned month by month, {percent} on average.",
    "measured at": "Counted",
    "measured at said": "What the plant delivers at the building's connection point.",
    "invented": "Building and equipment of this example are invented.",
    # Months.
    "months": "Month by month",
    "month": "Month",
    "alone": "this month alone",
    "from to": "{low} to {high}",
    "whole year": "Year",
    "months key": (
        "Bar: the likely year. Dark mark: the cautious year. Thin line and last column: "
        "where this month alone lies in eight of ten years."
    ),
    # The house.
    "house": "What it replaces in the building",
    "house said": (
        "Likely and cautious are read separately in each line; cautious figures make no sum."
    ),
    "self use": "Used in the building",
    "export": "Fed into the network",
    "import": "Still bought",
    "covered": "Share of consumption covered",
    "at most": "at most {value}",
    "at least": "at least {value}",
    "consumption": "Consumption: {energy} a year.",
    "upper bound": (
        "Own use is the most it can be and what is bought the least, for consumption or "
        "generation is known in long steps only."
    ),
    "invented load": "When power is used is assumed, not measured.",
    # Signatures.
    "signature": "Signatures",
    "signed customer": "Customer",
    "signed company": "Company",
    "signed place": "Place, date",
    # Second page.
    "moves": "What moves the figure",
    "moves said": (
        "What nobody knows exactly before building, and how much of the spread of the first year "
        "comes from it."
    ),
    "unknown": "Unknown",
    "share": "Share",
    "over years": "Over the years",
    "mean of years": "Mean of the first {years} years",
    "first year": "First year",
    "period": "Period",
    "over years said": (
        "Over several years good and bad weather even out; the modules age. The figures are energy "
        "a year."
    ),
    "money": "What it is worth",
    "no money": (
        "This offer states no prices. It therefore holds no page about money: nothing is said of "
        "savings or return."
    ),
    "prices": "Prices that this rests on",
    "money said": (
        "Likely is the middle of the calculated cases; nine of ten cases turn out no worse than "
        "cautious. Prices to come are assumed as stated; nobody knows them."
    ),
    "net present value": "Worth today beyond its price (net present value)",
    "internal rate of return": "Return a year (internal rate)",
    "levelised cost of energy": "Cost of a kilowatt-hour over its life",
    "simple payback": "Paid back after",
    "discounted payback": "Paid back with interest after",
    "years value": "{value}\u00a0years",
    "not within": "not within {years} years",
    "loss at any rate": "none: a loss at any rate",
    "gain at any rate": "none: a gain at any rate",
    "several rates": "several: none is told",
    "no energy": "none: no energy",
    "outlay": "Price of the plant",
    "outlay said": "{money}, paid before the first year",
    "life": "Life",
    "life said": "{years} years, money counted at the end of each",
    "purchase": "Power bought",
    "feed in": "Power fed in",
    "of period": "{name}: {price}",
    "of period at": "{name} ({when}): {price}",
    "changing": "{price} in the first year, then {percent} a year",
    "unchanging": "{price} in every year",
    "clock": "Hours of the prices",
    "running costs": "Running costs",
    "replacement": "Replacement",
    "replacement said": (
        "{what} after year {year}: {money} at the first year's prices, then changing like "
        "running costs"
    ),
    "discount": "Discount rate",
    "nominal": "{percent} a year, nominal",
    "real": "{percent} a year, real, beside inflation of {inflation}",
    "tax": "Tax",
    "no tax": "None is reckoned.",
    "tax on export": (
        "{percent} of what is fed in, after costs and the plant's price written off over {years} "
        "years; a loss is credited"
    ),
    "tax on all": (
        "{percent} of what is fed in and used, after costs and the plant's price written off "
        "over {years} years; a loss is credited"
    ),
    "curtailing": (
        "At some hours feeding in costs money. Feeding in nothing then would save {likely} in "
        "the likely first year and {cautious} in the cautious one."
    ),
    "bound money": "Own use is taken as the most it can be, and so is what it saves.",
    "no own use": (
        "All power is reckoned as fed in, for nothing is stated of what the building uses."
    ),
    "real money": "Return and cost of a kilowatt-hour are in money of the first year.",
    "not promised": "What is not promised",
    "not promised year": (
        "No single year and no single month is guaranteed. One year in ten lies below the cautious "
        "one."
    ),
    "not promised light": (
        "New buildings, growing trees, dirt, snow and damage that aren't reckoned take from the "
        "yield."
    ),
    "not promised plan": (
        "The figures hold for the plant as described. Other modules, inverters or strings mean "
        "another figure."
    ),
    "not promised use": (
        "How much is used in the building depends on how people live and work there."
    ),
    "not promised prices": (
        "Prices, tariffs, taxes and rules may change; the figures hold for the prices stated here."
    ),
    "not checked": (
        "Some electrical limits aren't checked yet, for want of data; the annex names them. "
        "Before building, a skilled person has to check them."
    ),
    "weather remarks": "About the weather data there are remarks in the annex.",
    "cautions": "For your safety",
    "caution live": (
        "In daylight the modules and their cables are always live, even when the inverter is "
        "switched off."
    ),
    "caution skilled": (
        "Work on the plant, its cables and its connection is for skilled, licensed people only. "
        "Stay off the roof."
    ),
    "caution damage": (
        "After storm, fire, flood or visible damage keep away and call a skilled person; tell the "
        "fire service that there is a solar plant."
    ),
    "caution aid": (
        "These pages are a design aid and no certificate. The local code, the makers' manuals and "
        "the licensed people on site prevail."
    ),
    # The annex.
    "annex": "The annex that follows is written in English, for engineers.",
    # Dates.
    "on day": "{day} {month} {year}",
    "first of month": "1",
    "day mon": "Mon",
    "day tue": "Tue",
    "day wed": "Wed",
    "day thu": "Thu",
    "day fri": "Fri",
    "day sat": "Sat",
    "day sun": "Sun",
    "month 1": "January",
    "month 2": "February",
    "month 3": "March",
    "month 4": "April",
    "month 5": "May",
    "month 6": "June",
    "month 7": "July",
    "month 8": "August",
    "month 9": "September",
    "month 10": "October",
    "month 11": "November",
    "month 12": "December",
    # What nobody knows exactly, by its name in the estimate.
    "cause weather year": "Weather of the year",
    "cause irradiance level": "How much sunlight the weather data hold",
    "cause long-term light": "Sunlight of many years",
    "cause diffuse light": "Share of diffuse light",
    "cause sky model": "How light spreads over the sky",
    "cause evenly bright share of the sky": "Evenly bright share of the sky",
    "cause inverter efficiency": "Efficiency of the inverter",
    "cause inverter efficiency by DC voltage": "Efficiency of the inverter by voltage",
    "cause inverter efficiency by load": "Efficiency of the inverter by load",
    "cause network voltage": "Voltage of the network",
    "cause bypass drop": "Bypass diodes of the modules",
    "cause module sorting": "Differences between modules",
    "cause weather's clock": "Clock of the weather data",
    "cause tilt": "Tilt of the modules",
    "cause azimuth": "Direction the modules face",
    "cause horizon": "Height of the horizon",
    "cause soiling": "Dirt on the modules",
    "cause module tolerance": "Power of the modules as delivered",
    "cause heat loss of the cells": "How well the modules are cooled",
    "cause low-light slope": "Modules in weak light",
    "cause snow": "Snow",
    "cause snow that is not stated": "Snow, of which nothing is known",
    "cause yearly loss of module power": "Ageing of the modules",
}
