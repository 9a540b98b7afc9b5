"""Check characters of serials, each by the plain rule of its standard (docs/model.md, section 2: "computed, not part of first..last").

What a scheme reads: the digits of the number as printed (zeros included), the digits of the prefix, and, in the alphanumeric schemes
(37-2 and 37-36), its letters. The check characters follow the digits. In `weighted-11-17` (49 CFR 565.15) the prefix has a `#` where it stands.
"""

from .readings import CHARACTERS

LUHN, VERHOEFF, DAMM, WEIGHTED = "luhn", "verhoeff", "damm", "weighted-11-17"
PURE = {"iso7064-11-2": (11, 2, "0123456789X"), "iso7064-37-2": (37, 2, CHARACTERS + "*")}
HYBRID = {"iso7064-11-10": "0123456789", "iso7064-37-36": CHARACTERS}
DAMM_TABLE = (  # Damm 2004; the quasigroup of order 10 in general use
    "0317598642", "7092154863", "4206871359", "1750983426", "6123045978",
    "3674209581", "5869720134", "8945362017", "9438617205", "2581436790",
)  # fmt: skip
VIN_VALUES = {**{d: int(d) for d in "0123456789"}, **dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", map(int, "12345678123457923456789"), strict=True))}
VIN_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


def with_check(scheme: str, prefix: str, digits: str, suffix: str) -> tuple[str, str, str]:
    """What stands before the digits, the digits, and what stands after them, with the check characters in their place."""
    if not scheme:
        return prefix, digits, suffix
    if scheme == WEIGHTED:
        whole = prefix + digits + suffix
        if len(whole) != 17 or whole[8] != "#" or whole.count("#") != 1:
            raise ValueError(f'"{whole}" needs 17 characters and "#" as the ninth for {WEIGHTED}')
        remainder = sum(w * VIN_VALUES[c] for w, c in zip(VIN_WEIGHTS, whole, strict=True) if c != "#") % 11
        return prefix.replace("#", "0123456789X"[remainder]), digits, suffix
    alphanumeric = "-37-" in scheme
    payload = "".join(c for c in prefix if alphanumeric or c.isdigit()) + digits
    return prefix, digits, check_characters(scheme, payload).replace("*", "") + suffix  # the `*` of mod 37-2 has no normal form


def check_characters(scheme: str, payload: str) -> str:
    """The check characters of a payload.

    >>> [check_characters(LUHN, "7992739871"), check_characters(VERHOEFF, "236"), check_characters(DAMM, "572")]
    ['3', '3', '4']
    >>> [check_characters("iso7064-11-2", "079"), check_characters("iso7064-11-10", "0794"), check_characters("iso7064-97-10", "794")]
    ['X', '5', '44']
    >>> [check_characters("iso7064-37-2", "G123489654321"), check_characters("iso7064-37-36", "A12425GABC1234002")]
    ['Y', 'M']
    """
    if scheme == LUHN:
        doubled = [int(c) * (2 if i % 2 == 0 else 1) for i, c in enumerate(reversed(payload))]
        return str(-sum(d // 10 + d % 10 for d in doubled) % 10)
    if scheme == VERHOEFF:
        state = 0
        for i, c in enumerate(reversed(payload)):
            state = _dihedral(state, _verhoeff_permutation(i + 1, int(c)))
        return str(next(d for d in range(10) if _dihedral(d, state) == 0))
    if scheme == DAMM:
        state = 0
        for c in payload:
            state = int(DAMM_TABLE[state][int(c)])
        return str(state)
    if scheme in PURE:  # ISO 7064, pure systems: the sum of values times powers of the radix is 1 modulo M
        modulus, radix, alphabet = PURE[scheme]
        total = sum(alphabet.index(c) * pow(radix, len(payload) - i, modulus) for i, c in enumerate(payload))
        return alphabet[(1 - total) % modulus]
    if scheme in HYBRID:  # ISO 7064, hybrid systems: M + 1, M
        alphabet = HYBRID[scheme]
        m = len(alphabet)
        product = m
        for c in payload:
            product = ((product + alphabet.index(c)) % m or m) * 2 % (m + 1)
        return alphabet[(1 - product) % m]
    if scheme == "iso7064-97-10":
        return f"{98 - int(payload) * 100 % 97:02d}"  # 02..98, never 00 or 01
    raise ValueError(f'"{scheme}" is no check-digit scheme')


def _dihedral(a: int, b: int) -> int:
    """Product in the dihedral group of order 10: 0..4 are turns, 5..9 are flips."""
    if a < 5:
        return (a + b) % 5 + (5 if b >= 5 else 0)
    return (a - b) % 5 + (0 if b >= 5 else 5)


def _verhoeff_permutation(times: int, digit: int) -> int:
    for _ in range(times % 8):
        digit = (1, 5, 7, 6, 2, 8, 3, 0, 9, 4)[digit]
    return digit
