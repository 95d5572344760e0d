"""Check what the main job printed and the report it wrote; exit 1 with a list of what is wrong.

Takes the file that holds the printed text.
"""

import html
import re
import sys
from pathlib import Path

from yieldkit.base.files import damaged

SMALLEST, LARGEST = 200_000, 6_000_000
LOADED = re.compile(
    r"""(?:src|href|data|action|srcset)\s*=\s*["']?\s*(?!data:|\#)[^"'\s>]+"""
    r"""|url\(\s*["']?(?!data:|\#)[^)]+\)|@import""",
    re.IGNORECASE,
)
FIGURE = re.compile(r"<figure.*?</figure>", re.DOTALL)
HEADLINE = re.compile(r"^'(.+)' yields most: [\d,]+ kWh", re.DOTALL)


def faults(printed: str) -> list[str]:
    """Return what is wrong with the printed text and the report it names."""
    headline = HEADLINE.match(printed)
    named = re.search(r"^Report: (.+)$", printed, re.MULTILINE)
    if not headline or not named:
        return ["the headline or the report's place was not printed"]
    report = Path(named[1])
    if not report.is_file():
        return [f"{report} does not exist"]
    page = report.read_text(encoding="utf-8")
    tags = re.sub(r"data:image/[a-z+]+;base64,[A-Za-z0-9+/=\s]+", "data:", page)
    wrong = []
    if not SMALLEST < report.stat().st_size < LARGEST:
        wrong.append(f"the report has {report.stat().st_size} bytes")
    if not page.rstrip().endswith("</html>"):
        wrong.append("the report does not end with </html>")
    if "default-src 'none'" not in html.unescape(tags):
        wrong.append("the report has no content security policy")
    if re.search(r"<script\b|\bon\w+\s*=\s*[\"']", tags, re.IGNORECASE):
        wrong.append("the report holds a script")
    wrong.extend(f"the report loads {match[0][:80]}" for match in LOADED.finditer(tags))
    # A tall picture is cut into strips, of which the first has the words for all.
    firsts = [figure.partition("<img")[2] for figure in FIGURE.findall(tags)]
    silent = [first for first in firsts if not re.match(r"[^>]*\balt=\"[^\"]{10,}\"", first)]
    if silent or "<img" in FIGURE.sub("", tags):
        wrong.append("a picture has no alternative text")
    if headline[1] not in html.unescape(page):
        wrong.append("the report does not name the wiring of the headline")
    if "Traceback" in page:
        wrong.append("the report holds a traceback")
    wrong.extend(f"{name} is not as it was written" for name in damaged(report.parent))
    return wrong


if __name__ == "__main__":
    found = faults(Path(sys.argv[1]).read_text(encoding="utf-8"))
    sys.stdout.write("".join(f"{each}\n" for each in found) or "The report is sound.\n")
    sys.exit(1 if found else 0)
