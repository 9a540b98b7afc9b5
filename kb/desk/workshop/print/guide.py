"""The field guide as one HTML file, with its look-up in plain JavaScript."""

import json

from markupsafe import Markup

from kb.desk.workshop.print.page import templates
from kb.words.answers.workshop import Guide


def html(guide: Guide, site: str = "") -> str:
    """The page. site: where the knowledge base is served; there the look-up leads on to the full answer if scripts are off."""
    return templates().get_template("guide.html").render(guide=guide, data=_data(guide), site=site)


def _data(guide: Guide) -> Markup:
    """What the look-up knows, as JSON that cannot end the element it stands in."""
    text = json.dumps(guide.look_up, ensure_ascii=True, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c").replace("&", "\\u0026"))
