"""Kinds of danger in working on old machinery: what to do, and who says so in public.

The wording is ours; the source is what a reader can look up. Where no source is named it is common practice of the trade. None of it takes the
place of local codes.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Hazard:
    """One kind of danger. source: "" where it is common practice."""

    name: str
    text: str
    source: str


HAZARDS: dict[str, Hazard] = {
    "dust": Hazard(
        "brake, clutch and packing dust",
        "Old linings and packings may contain asbestos. Never blow or brush the dust dry: enclose it with a HEPA vacuum or wet it with low pressure, "
        "wipe with wet rags, and bag rags and old parts as asbestos waste.",
        "29 CFR 1910.1001, Appendix F (OSHA, 1994); HSE, Asbestos in motor vehicle repair, hse.gov.uk/mvr/mechanical-repair/asbestos.htm",
    ),
    "springs": Hazard(
        "stored energy",
        "Springs, raised parts, belts and anything wound up or turning hold energy after the engine has stopped. Relieve, disconnect or block all of "
        "it, and make sure that nobody can start the machine, before a hand goes in.",
        "29 CFR 1910.147(d)(5) (OSHA, 1989), as good practice",
    ),
    "lifting": Hazard(
        "lifting",
        "Use slings and hoists rated for the load, without knots or kinks. Nobody goes or reaches under a hanging load.",
        "29 CFR 1910.184 (OSHA, 1975)",
    ),
    "jacking": Hazard(
        "jacking",
        "A jack lifts, it does not hold. Put rated stands with proper pins on hard level ground, chock the wheels, and block the load before anybody "
        "goes beneath it.",
        "HSE, Working under vehicles, INDG434; 29 CFR 1910.244 (OSHA, 1974)",
    ),
    "pressure": Hazard(
        "pressure",
        "Pumps, pipes, tanks and cylinders keep their pressure after the machine has stopped. Let it off slowly, away from people, before a joint "
        "is opened.",
        "29 CFR 1910.147(d)(5) (OSHA, 1989), as good practice",
    ),
    "electricity": Hazard(
        "electricity",
        "Magnetos, coils and batteries shock and fire the engine. Take the leads off and ground them before the shaft is turned; anything on the "
        "mains is for a licensed electrician.",
        "",
    ),
    "hot-work": Hazard(
        "hot work on tanks and drums",
        "An empty tank is not empty: what is left in its seams explodes. No welding, cutting or grinding on a tank or drum; a firm that is equipped "
        "for it makes it safe first.",
        "HSE, INDG314(rev1), 2013",
    ),
    "lead-paint": Hazard(
        "lead paint",
        "Old paint may contain lead. No dry sanding, burning or open blasting: work wet, and keep dust off food, clothes and children.",
        "29 CFR 1926.62 (OSHA, 1993)",
    ),
}
