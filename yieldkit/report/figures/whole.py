"""Pictures that paper keeps whole, small enough for two on a page."""

from __future__ import annotations

import base64
from collections.abc import Sequence

from markupsafe import Markup

from yieldkit.report.figures.picture import Picture
from yieldkit.report.markup import Html, template

_WHOLE = template(
    '<div class="whole">{% for one in pictures %}<figure><figcaption>{{ one.caption }}</figcaption>'
    '<img alt="{{ one.alt }}" src="data:image/png;base64,{{ one.png }}"></figure>{% endfor %}</div>'
)


def whole(pictures: Sequence[Picture]) -> Html:
    """Return pictures that are not cut into strips.

    Parameters
    ----------
    pictures : sequence of Picture
        Pictures of which no letter gets lost at less than half a page's height.
    """
    shown = [
        {
            "caption": each.caption,
            "alt": each.alt,
            "png": Markup(base64.b64encode(each.png()).decode("ascii")),
        }
        for each in pictures
    ]
    return Html(_WHOLE.render(pictures=shown))
