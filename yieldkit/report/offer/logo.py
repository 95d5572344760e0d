"""The company's mark, put into the page as it is."""

from __future__ import annotations

import base64

from markupsafe import Markup

from yieldkit.config.relations.offer_logo import MOST_BYTES, logo_path, media_type
from yieldkit.config.site.site import Site


def logo_source(site: Site) -> Markup:
    """Return the source of a site's logo for a page; nothing where none is named.

    Parameters
    ----------
    site : Site
        The site, whose file was checked to name a picture. One that was changed since then into
        something else isn't put into a page.
    """
    named = None if site.offer is None else site.offer.logo_file
    if named is None:
        return Markup("")
    data = logo_path(named, site.folder).read_bytes()
    kind = media_type(data) if len(data) <= MOST_BYTES else ""
    return (
        Markup(f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}")
        if kind
        else Markup("")
    )
