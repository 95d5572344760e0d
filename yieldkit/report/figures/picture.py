"""A figure with its own words: alternative text and caption, as one piece of HTML."""

from __future__ import annotations

import base64
import io
import warnings
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple, NotRequired, TypedDict

from markupsafe import Markup
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.patheffects import Stroke, withStroke
from matplotlib.text import Text

from yieldkit.config.site.site import Site
from yieldkit.report.figures.fonts import families, inches, spoken
from yieldkit.report.figures.strips import strips_of
from yieldkit.report.markup import kept_apart, template, visible

INK = "#1b1b1b"
SOFT = "#6b6b6b"
LINE = "#8a8a8a"
PALE = "#e6e6e2"
COLOURS = ("#2b5c8a", "#d8963c", "#4f7f3c", "#8a3b6e", "#5b55a3", "#a89a1e", "#2f8f8f", "#a34a3a")
"""Colours of planes and of nothing else: strings, inputs and wirings are black, grey or white."""
TONES = (INK, "#8f8f8f", "#ffffff", "#c9c9c9")
"""Fillings of wirings' bars, which have numbers as well."""
SHADES = (INK, "#7a7a7a", "#a6a6a6", SOFT)
"""Lines of strings and inputs, which have styles or markers as well."""
HATCHES = ("", "///", "...", "xxx", "\\\\\\", "ooo", "---", "+++")
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
LINES = ("-", "--", "-.", ":")
WIDTH = 7.4
"""Width of every figure [inch]: that of a printed page, so that text keeps its size on paper."""

BIG, TEXT, SMALL = 9.0, 8.0, 7.0
_DOTS_PER_INCH = 150
_BESIDE_WORDS = 0.6
"""What a key's sign and the blanks round it take [inch]."""
_TALLEST = 3.0
"""Height of a picture that paper keeps whole [inch]."""

_FIGURE = template(
    "{% set tall = images|length > 1 %}"
    '<figure{% if tall %} class="tall"{% endif %}>{% if tall %}<div>{% endif %}'
    "<figcaption>{{ caption }}</figcaption>"
    "{% for image in images %}"
    '<img width="{{ width }}" height="{{ image.height }}" '
    'alt="{% if loop.first %}{{ alt }}{% endif %}" src="data:image/png;base64,{{ image.png }}">'
    "{% if tall and loop.first %}</div>{% endif %}{% endfor %}</figure>"
)


class Picture(NamedTuple):
    """A figure, what it shows in words, and its caption.

    Parameters
    ----------
    figure : Figure
        The figure.
    alt : str
        Alternative text: sentences with the numbers.
    caption : str
        Caption over the figure.
    """

    figure: Figure
    alt: str
    caption: str

    def png(self) -> bytes:
        """Return the figure as PNG."""
        stream = io.BytesIO()
        FigureCanvasAgg(self.figure)
        for text in self.figure.findobj(Text):
            text.set_fontfamily(families(text.get_text()))
        with warnings.catch_warnings():
            # A sign that even the fonts found for it can't draw is no reason to stop.
            warnings.filterwarnings("ignore", message="Glyph .* missing from font")
            self.figure.savefig(stream, format="png", dpi=_DOTS_PER_INCH)
        return stream.getvalue()

    def strips(self) -> list[bytes]:
        """Return the figure as PNGs that stand below one another: one, unless it is tall."""
        most = round(_TALLEST * _DOTS_PER_INCH)
        low = self.figure.get_size_inches()[1] <= _TALLEST
        return [self.png()] if low else strips_of(self.png(), most)

    def _repr_html_(self) -> str:
        """Return the picture with its caption; only the first strip has the words."""
        width, high = (96 * inches for inches in self.figure.get_size_inches())
        parts = self.strips()
        rows = [_rows(part) or 1 for part in parts]
        images = [
            {
                "height": f"{high * own / sum(rows):.0f}",
                "png": Markup(base64.b64encode(part).decode("ascii")),
            }
            for part, own in zip(parts, rows, strict=True)
        ]
        return _FIGURE.render(
            alt=self.alt, caption=self.caption, width=f"{width:.0f}", images=images
        )


def _rows(png: bytes) -> int:
    """Return a PNG's height [dots], as its header has it."""
    return int.from_bytes(png[20:24], "big")


def new_figure(height: float) -> Figure:
    """Return an empty figure in our look, as wide as a page.

    Parameters
    ----------
    height : float
        Height [inch].
    """
    return Figure(figsize=(WIDTH, height), layout="constrained")


def label(text: object, longest: int = 40) -> str:
    """Return text for a figure: short, and without signs that start formulas.

    Parameters
    ----------
    text : object
        Any text.
    longest : int
        Signs it may have; the rest is cut.
    """
    short = spoken(visible(text))
    short = short if len(short) <= longest else short[: longest - 1] + "…"
    return kept_apart(short).replace("$", r"\$")


def fitted(text: object, width: float, size: float = SMALL) -> str:
    """Return text for a figure, cut so that it is drawn no wider than there is room.

    Parameters
    ----------
    text : object
        Any text.
    width : float
        Room [inch].
    size : float
        Size of the letters [pt].
    """
    whole = spoken(visible(text))
    if inches(whole, size) <= width:
        return label(whole, len(whole))
    lengths = range(2, len(whole))
    chars = 1 + bisect_right(lengths, width, key=lambda n: inches(f"{whole[:n]}…", size))
    return label(f"{whole[:chars].rstrip()}…", chars + 1)


def fitted_input(name: str, width: float, size: float = SMALL) -> str:
    """Return an input's name for a figure; where it is too long its inverter's name is cut.

    Parameters
    ----------
    name : str
        Such as "MPPT 1", or "north / MPPT 1" where there are several inverters.
    width, size : float
        As for `fitted`.
    """
    whole = spoken(visible(name))
    inverter, between, own = whole.rpartition(" / ")
    room = width - inches(f"{between}{own}", size)
    if inches(whole, size) <= width or room < inches("m…", size):
        return fitted(whole, width, size)
    return f"{fitted(inverter, room, size)}{label(between + own, len(whole))}"


def dress(
    axes: Axes,
    *,
    title: str = "",
    x: str = "",
    y: str = "",
    grid: Literal["both", "x", "y"] | None = "y",
) -> None:
    """Give axes their words and take away what carries no information.

    Parameters
    ----------
    axes : Axes
        The axes.
    title, x, y : str
        Title and axis texts, made safe with `label` where a user wrote them.
    grid : str or None
        Which axis has lines.
    """
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(LINE)
    axes.tick_params(color=LINE, labelsize=SMALL)
    axes.set_axisbelow(True)
    if grid is not None:
        axes.grid(axis=grid, color=PALE, linewidth=0.8)
    if title:
        axes.set_title(title, fontsize=TEXT, loc="left", color=INK)
    axes.set_xlabel(x, fontsize=SMALL, color=INK)
    axes.set_ylabel(y, fontsize=SMALL, color=INK)


def halo() -> list[Stroke]:
    """Return a white rim for text that crosses lines."""
    return [withStroke(linewidth=2.0, foreground="white")]


class Look(TypedDict):
    """How a shape is filled and edged, in the words of the library that draws."""

    facecolor: str
    edgecolor: str
    linewidth: float
    hatch: NotRequired[str]


def plane_looks(site: Site) -> dict[str, Look]:
    """Return the look of every plane, the same in all pictures of a report, by its name.

    Parameters
    ----------
    site : Site
        The site; planes are counted in its order.
    """
    return {plane.name: plane_look(index) for index, plane in enumerate(site.planes)}


def plane_look(index: int) -> Look:
    """Return colour, hatching and edge of the plane with a number, told apart without colour."""
    return {
        "facecolor": COLOURS[index % len(COLOURS)],
        "hatch": HATCHES[(index + index // len(COLOURS)) % len(HATCHES)],
        "edgecolor": "white",
        "linewidth": 0.4,
    }


def wiring_look(index: int) -> Look:
    """Return tone and edge of the bar of the wiring with a number; it has no plane's colour."""
    return {"facecolor": TONES[index % len(TONES)], "edgecolor": INK, "linewidth": 0.5}


def wiring_key_above(figure: Figure, names: Mapping[str, int], columns: int = 2) -> None:
    """Put the key to wirings' bars above a figure: number, tone and name.

    Parameters
    ----------
    figure : Figure
        The figure.
    names : mapping of str to int
        Names with their places, from 0, for `wiring_look`.
    columns : int
        Columns of the key.
    """
    bars = [
        Patch(label=f"{row + 1}  {label(name)}", **wiring_look(row)) for name, row in names.items()
    ]
    _key(figure, bars, columns)


def line_key_above(figure: Figure, lines: Sequence[Line2D], columns: int = 4) -> None:
    """Put the key to lines above a figure.

    Parameters
    ----------
    figure : Figure
        The figure.
    lines : sequence of Line2D
        Lines with their labels.
    columns : int
        Columns of the key.
    """
    _key(figure, list(lines), columns)


def _key(figure: Figure, handles: Sequence[Patch | Line2D], columns: int) -> None:
    """Put a key above a figure, in fewer columns where its words need the room."""
    widest = max(inches(str(handle.get_label()), SMALL) for handle in handles)
    columns = max(1, min(columns, int(WIDTH / (widest + _BESIDE_WORDS))))
    figure.legend(
        handles=handles,
        loc="outside upper left",
        ncols=min(columns, len(handles)),
        frameon=False,
        fontsize=SMALL,
        handlelength=2.2,
    )
