"""Pictures side by side, each whole on its page and small enough for two in a row."""

from __future__ import annotations

import base64
from collections.abc import Sequence

from markupsafe import Markup

from yieldkit.report.figures.picture import Picture
from yieldkit.report.markup import Html, template

_BESIDE = template(
    '<div class="pair">{% for one in pictures %}<figure><figcaption>{{ one.caption }}</figcaption>'
    '<img alt="{{ one.alt }}" src="data:image/png;base64,{{ one.png }}"></figure>{% endfor %}</div>'
)


def beside(pictures: Sequence[Picture]) -> Html:
    """Return pictures two in a row, on a narrow screen below one another.

    Parameters
    ----------
    pictures : sequence of Picture
        Pictures of which no letter gets lost at half a page's width.
    """
    shown = [
        {
            "caption": each.caption,
            "alt": each.alt,
            "png": Markup(base64.b64encode(each.png()).decode("ascii")),
        }
        for each in pictures
    ]
    return Html(_BESIDE.render(pictures=shown))
