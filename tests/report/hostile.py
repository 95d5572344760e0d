"""Names that would do harm if they were taken for anything but text."""

from yieldkit.config.site.files import site_from_mapping

HIT = "document.title='hit'"
PAYLOADS = (
    f"<script>{HIT}</script>",
    f"<img src=x onerror={HIT}>",
    f"<svg onload={HIT}>",
    f'"><script>{HIT}</script>',
    f"'><img src=x onerror={HIT}>",
    f"</title><script>{HIT}</script>",
    f"</style><script>{HIT}</script>",
    f"</table></div><script>{HIT}</script>",
    f"--><script>{HIT}</script>",
    f"]]><script>{HIT}</script>",
    f"<iframe src=javascript:parent.{HIT}>",
    f"<a href=javascript:{HIT}>x</a>",
    f"<details open ontoggle={HIT}>",
    f"<input autofocus onfocus={HIT}>",
    f"<body onload={HIT}>",
    f"<video><source onerror={HIT}></video>",
    '<meta http-equiv=refresh content="0;url=data:text/html,x">',
    "<base href=//x.invalid/>",
    "<link rel=stylesheet href=//x.invalid/a.css>",
    "<style>@import '//x.invalid/b.css'</style>",
    "<object data=//x.invalid/c></object>",
    f'" onmouseover="{HIT}" x="',
    "{{7*7}}{% if 1 %}${7*7}",
    "=1+1",
    "@SUM(A1:A9)",
    "a $x_{ b$ \\$ c",
    "$\\frac{1}{$",
    f"[y](javascript:{HIT}) ![z](//x.invalid/d.png)",
    "&lt;script&gt;&#60;b&#62; %3Cscript%3E",
    "屋根 крыша <!--",
)
_LONGEST = 200


def chunks(longest=_LONGEST - 4):
    """Return the payloads joined into names that are short enough."""
    found = [""]
    for payload in PAYLOADS:
        if len(found[-1]) + len(payload) > longest:
            found.append("")
        found[-1] += payload
    return found


def hostile_site(site, name):
    """Return a site in which every text that a person may choose is a hostile name."""
    content = site.model_dump(mode="json")
    new = {}

    def named(old, number):
        new[old] = f"{name} {number}"
        return new[old]

    place = content["site"]
    place["name"] = name
    for key in ("station", "period", "definition"):
        place["design_temperatures"][key] = name
    content["notes"] = name
    content["inverter"]["name"] = name
    content["inverter"]["connector"] = name
    for number, module in enumerate(content["module_types"]):
        module["name"] = named(module["name"], number)
        module["connector"] = name
    for number, plane in enumerate(content["planes"]):
        plane["module_type"] = new[plane["module_type"]]
        plane["name"] = named(plane["name"], number)
    for number, mppt in enumerate(content["inverter"]["mppts"]):
        mppt["name"] = named(mppt["name"], number)
    for number, wiring in enumerate(content["wirings"]):
        wiring["name"] = f"{name} {number}"
        for tracker in wiring["trackers"]:
            tracker["mppt"] = new[tracker["mppt"]]
            for string in tracker["strings"]:
                for group in string["groups"]:
                    group["plane"] = new[group["plane"]]
    return site_from_mapping(content, "site", site.folder)
