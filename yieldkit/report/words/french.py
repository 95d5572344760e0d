"""The customer's pages in French."""

from __future__ import annotations

WORDS: dict[str, str] = {
    # What the page is called, and whom it is for.
    "title": "Ce que produit votre installation solaire",
    "offer": "Offre",
    "offer number": "Offre n°",
    "customer": "Client",
    "date": "Date",
    "valid until": "Valable jusqu’au",
    "place": "Installation",
    # The year.
    "years": "Énergie de la première année",
    "likely": "probable",
    "cautious": "prudent",
    "likely year": "Année probable",
    "cautious year": "Année prudente",
    "likely means": "La moitié des cas donnent davantage.",
    "cautious means": "Neuf cas sur dix donnent davantage.",
    "per kwp": "{energy} par kWc",
    "years explained": (
        "Les deux valeurs proviennent de {draws} cas calculés. D’un cas à l’autre changent la "
        "météo de l’année et tout ce que personne ne connaît exactement avant la construction."
    ),
    # On what it rests.
    "rests on": "Sur quoi reposent ces chiffres",
    "rated power": "Puissance nominale",
    "rated power said": "{kwp} pour {modules} modules",
    "not wired": "{kwp} pour {modules} modules, dont {wired} raccordés",
    "kwp": "kWc",
    "inverter": "Onduleur",
    "weather": "Météo",
    "years of weather": "{title} ({years} années)",
    "between years": "D’une année à l’autre",
    "measured years": (
        "Les années disponibles diffèrent de {percent} en ensoleillement (écart type)."
    ),
    "stated": ("On admet que les années diffèrent de {percent} en ensoleillement (écart type)."),
    "blocks of days": (
        "La météo est celle d’une seule année. Les années réelles diffèrent plus que dans ce "
        "calcul : l’année prudente peut être inférieure au chiffre indiqué."
    ),
    "few years": "Si peu d’années ne disent guère à quel point les années diffèrent.",
    "ageing": "Vieillissement",
    "ageing said": (
        "Les modules perdent {percent} de leur puissance par an ; le calcul porte sur {years} ans."
    ),
    "outages": "Arrêts",
    "no outages": "Aucun n’est compté. Une installation à l’arrêt produit moins.",
    "outages said": "On admet que l’installation fonctionne {percent} du temps.",
    "outages by month": "Les arrêts sont comptés mois par mois, {percent} en moyenne.",
    "measured at": "Compté",
    "measured at said": "Ce que l’installation fournit au point de raccordement du bâtiment.",
    "invented": "Le bâtiment et le matériel de cet exemple sont inventés.",
    # Months.
    "months": "Mois par mois",
    "month": "Mois",
    "alone": "ce mois seul",
    "from to": "{low} à {high}",
    "whole year": "Année",
    "months key": (
        "Barre : l’année probable. Repère foncé : l’année prudente. Trait fin et dernière "
        "colonne : où se situe ce mois seul huit années sur dix."
    ),
    # The house.
    "house": "Ce qu’elle remplace dans le bâtiment",
    "house said": (
        "Probable et prudent sont lus séparément à chaque ligne ; les valeurs prudentes ne "
        "s’additionnent pas."
    ),
    "self use": "Consommé dans le bâtiment",
    "export": "Injecté dans le réseau",
    "import": "Encore acheté",
    "covered": "Part de la consommation couverte",
    "at most": "au plus {value}",
    "at least": "au moins {value}",
    "consumption": "Consommation : {energy} par an.",
    "upper bound": (
        "L’autoconsommation est la plus élevée possible et l’achat le plus faible possible : la "
        "consommation ou la production ne sont connues que par longs intervalles."
    ),
    "invented load": "Le moment de la consommation est supposé et non mesuré.",
    # Signatures.
    "signature": "Signatures",
    "signed customer": "Client",
    "signed company": "Entreprise",
    "signed place": "Lieu, date",
    # Second page.
    "moves": "Ce qui fait varier le chiffre",
    "moves said": (
        "Ce que personne ne connaît exactement avant la construction, et sa part dans la "
        "dispersion de la première année."
    ),
    "unknown": "Inconnue",
    "share": "Part",
    "over years": "Au fil des années",
    "mean of years": "Moyenne des {years} premières années",
    "first year": "Première année",
    "period": "Période",
    "over years said": (
        "Sur plusieurs années, bonne et mauvaise météo se compensent ; les modules vieillissent. "
        "Les chiffres sont des énergies par an."
    ),
    "money": "Ce qu’elle vaut",
    "no money": (
        "Cette offre n’indique aucun prix. Elle ne contient donc pas de page sur l’argent : rien "
        "n’est dit des économies ni de la rentabilité."
    ),
    "prices": "Prix sur lesquels cela repose",
    "money said": (
        "Probable est le milieu des cas calculés ; neuf cas sur dix ne sont pas plus "
        "défavorables que prudent. Les prix à venir sont admis tels qu’indiqués ; personne ne "
        "les connaît."
    ),
    "net present value": "Valeur aujourd’hui au-delà du prix (valeur actuelle nette)",
    "internal rate of return": "Rendement par an (taux interne)",
    "levelised cost of energy": "Coût d’un kilowattheure sur la durée de vie",
    "simple payback": "Temps de retour",
    "discounted payback": "Temps de retour avec intérêts",
    "years value": "{value}\u00a0ans",
    "not within": "pas en {years} ans",
    "loss at any rate": "aucun : perte à tout taux",
    "gain at any rate": "aucun : gain à tout taux",
    "several rates": "plusieurs : aucun n’est donné",
    "no energy": "aucun : pas d’énergie",
    "outlay": "Prix de l’installation",
    "outlay said": "{money}, payés avant la première année",
    "life": "Durée de vie",
    "life said": "{years} ans, l’argent étant compté à la fin de chaque année",
    "purchase": "Électricité achetée",
    "feed in": "Électricité injectée",
    "of period": "{name} : {price}",
    "of period at": "{name} ({when}) : {price}",
    "changing": "{price} la première année, puis {percent} par an",
    "unchanging": "{price} chaque année",
    "clock": "Heures des prix",
    "running costs": "Frais courants",
    "replacement": "Remplacement",
    "replacement said": (
        "{what} après l’année {year} : {money} aux prix de la première année, évoluant comme les "
        "frais courants"
    ),
    "discount": "Taux d’actualisation",
    "nominal": "{percent} par an, nominal",
    "real": "{percent} par an, réel, pour une inflation de {inflation}",
    "tax": "Impôt",
    "no tax": "Aucun n’est compté.",
    "tax on export": (
        "{percent} de ce qui est injecté, après déduction des frais et du prix de l’installation "
        "amorti sur {years} ans ; une perte est créditée"
    ),
    "tax on all": (
        "{percent} de ce qui est injecté et consommé, après déduction des frais et du prix de "
        "l’installation amorti sur {years} ans ; une perte est créditée"
    ),
    "curtailing": (
        "À certaines heures, injecter coûte de l’argent. Ne rien injecter alors épargnerait "
        "{likely} l’année probable et {cautious} l’année prudente."
    ),
    "bound money": (
        "L’autoconsommation est la plus élevée possible, et donc aussi ce qu’elle épargne."
    ),
    "no own use": (
        "Tout le courant est compté comme injecté, car rien n’est indiqué de ce que consomme le "
        "bâtiment."
    ),
    "real money": "Rendement et coût d’un kilowattheure sont en monnaie de la première année.",
    "not promised": "Ce qui n’est pas promis",
    "not promised year": (
        "Aucune année ni aucun mois pris seul n’est garanti. Une année sur dix est inférieure à "
        "l’année prudente."
    ),
    "not promised light": (
        "Nouveaux bâtiments, arbres qui poussent, saleté, neige et dégâts non comptés réduisent la "
        "production."
    ),
    "not promised plan": (
        "Les chiffres valent pour l’installation décrite. D’autres modules, onduleurs ou chaînes "
        "donnent d’autres chiffres."
    ),
    "not promised use": (
        "Ce qui est consommé dans le bâtiment dépend de la façon dont on y vit et y travaille."
    ),
    "not promised prices": (
        "Prix, tarifs, impôts et règles peuvent changer ; les chiffres valent pour les prix "
        "indiqués ici."
    ),
    "not checked": (
        "Certaines limites électriques ne sont pas encore vérifiées, faute de données ; l’annexe "
        "les nomme. Une personne qualifiée doit les vérifier avant la construction."
    ),
    "weather remarks": "L’annexe contient des remarques sur les données météo.",
    "cautions": "Pour votre sécurité",
    "caution live": (
        "À la lumière du jour, les modules et leurs câbles sont toujours sous tension, même "
        "lorsque l’onduleur est arrêté."
    ),
    "caution skilled": (
        "Les travaux sur l’installation, ses câbles et son raccordement sont réservés à des "
        "personnes qualifiées et habilitées. Ne montez pas sur le toit."
    ),
    "caution damage": (
        "Après une tempête, un incendie, une inondation ou des dégâts visibles, restez à distance "
        "et appelez une personne qualifiée ; signalez l’installation solaire aux pompiers."
    ),
    "caution aid": (
        "Ces pages sont une aide à la conception et non un certificat. Les règles locales, les "
        "notices des fabricants et les personnes habilitées sur place font foi."
    ),
    # The annex.
    "annex": "L’annexe qui suit s’adresse aux spécialistes et est en anglais.",
    # Dates.
    "on day": "{day} {month} {year}",
    "first of month": "1er",
    "day mon": "lun.",
    "day tue": "mar.",
    "day wed": "mer.",
    "day thu": "jeu.",
    "day fri": "ven.",
    "day sat": "sam.",
    "day sun": "dim.",
    "month 1": "janvier",
    "month 2": "février",
    "month 3": "mars",
    "month 4": "avril",
    "month 5": "mai",
    "month 6": "juin",
    "month 7": "juillet",
    "month 8": "août",
    "month 9": "septembre",
    "month 10": "octobre",
    "month 11": "novembre",
    "month 12": "décembre",
    # What nobody knows exactly, by its name in the estimate.
    "cause weather year": "Météo de l’année",
    "cause irradiance level": "Ensoleillement contenu dans les données météo",
    "cause long-term light": "Ensoleillement de nombreuses années",
    "cause diffuse light": "Part de lumière diffuse",
    "cause sky model": "Répartition de la lumière dans le ciel",
    "cause evenly bright share of the sky": "Part uniformément claire du ciel",
    "cause inverter efficiency": "Rendement de l’onduleur",
    "cause inverter efficiency by DC voltage": "Rendement de l’onduleur selon la tension",
    "cause inverter efficiency by load": "Rendement de l’onduleur selon la charge",
    "cause network voltage": "Tension du réseau",
    "cause bypass drop": "Diodes de dérivation des modules",
    "cause module sorting": "Différences entre modules",
    "cause weather's clock": "Horloge des données météo",
    "cause tilt": "Inclinaison des modules",
    "cause azimuth": "Orientation des modules",
    "cause horizon": "Hauteur de l’horizon",
    "cause soiling": "Saleté sur les modules",
    "cause module tolerance": "Puissance des modules livrés",
    "cause heat loss of the cells": "Refroidissement des modules",
    "cause low-light slope": "Modules sous faible lumière",
    "cause snow": "Neige",
    "cause snow that is not stated": "Neige, dont on ne sait rien",
    "cause yearly loss of module power": "Vieillissement des modules",
}
