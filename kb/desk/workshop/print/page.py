"""What all printed pages share: templates, escaping, and the address of the unit as a code for a telephone."""

from functools import cache
from pathlib import Path
from urllib.parse import urlencode

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from kb.desk.sentences.numbers import minutes, number
from kb.output import writing as output
from kb.output.kinds import PAGE, PDF
from kb.words.errors import QuestionError
from kb.words.evidence import Evidence

HERE = Path(__file__).parent
MOST_IN_A_CODE = 1200  # characters; a denser code is not read from paper by a telephone


@cache
def templates() -> Environment:
    """The templates; everything put into them is escaped, and a name that is missing is an error."""
    found = Environment(loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    found.filters["plain"] = lambda value: f"{value:g}"
    found.filters.update(number=number, minutes=minutes)
    return found


def address_of(site: str, evidence: Evidence) -> str:
    """The web page that asks the same about the unit; the fields are those of the command line.

    >>> address_of("https://kb.example/", Evidence(serial="C1542"))
    'https://kb.example/identify?serial=C1542'
    """
    return f"{site.rstrip('/')}/identify?{urlencode(evidence.fields, safe='@*:,')}"


def judge_of(site: str, step: str, evidence: Evidence) -> str:
    """The web page that judges a measure of a step for the unit."""
    return f"{site.rstrip('/')}/measure?{urlencode([('step', step), *evidence.fields], safe='@*:,')}"


def code(address: str) -> Markup:
    """The address as a QR code (ISO/IEC 18004), drawn as SVG that takes the size of its class; "" if it is too long to be read from paper."""
    import segno

    if len(address) > MOST_IN_A_CODE:
        return Markup("")
    # Any of the eight masks can be read; choosing the handsomest takes longer than all the rest of a page.
    drawn = segno.make_qr(address, error="l", mask=3)
    return Markup(drawn.svg_inline(border=4, svgclass="code", lineclass=None, omitsize=True, title="The address of this unit"))


def pdf(html: str, target: Path, *, force: bool = False) -> None:
    """The page as PDF, by WeasyPrint, which is an extra.

    Raises:
        QuestionError: WeasyPrint is not installed.
        FileError: the file cannot be written.
    """
    from importlib import import_module

    try:
        weasyprint = import_module("weasyprint")
    except (ImportError, OSError) as error:  # OSError: its libraries are missing
        raise QuestionError(f"A PDF needs WeasyPrint ({error}).", 'Install it with pip install "casting-kb[pdf]", or print the HTML file.') from error

    def refuse(url: str, *_: object) -> None:
        raise ValueError(f"{url}: a page fetches nothing")

    output.write(target, weasyprint.HTML(string=html, url_fetcher=refuse).write_pdf(pdf_tags=True), PDF, force=force)


def write(target: Path, content: bytes, *, force: bool = False) -> None:
    """Write a page as a file.

    Raises:
        FileError: it cannot be written, or would replace something that is no page.
    """
    output.write(target, content, PAGE, force=force)
