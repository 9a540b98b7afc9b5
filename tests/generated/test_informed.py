"""The matcher that knows how readings are drawn: its weights are the shares in which readings come out."""

from collections import Counter

import numpy as np
import pytest

from benchmarks.informed import compiled, shares
from benchmarks.mark_catalogue import any_other, read_worn
from kb.probability.channel.reading import Reading

DRAWN = 20_000


def test_weights_are_the_shares_in_which_readings_come_out() -> None:
    rng = np.random.default_rng(3)
    noise = any_other(rng)
    misread = shares(noise)
    # Sets do not keep their order, so readings are told apart as they are understood.
    counts = Counter(Reading.parse(read_worn("HK4127", rng, noise)).tokens for _ in range(DRAWN))
    common = [(tokens, count) for tokens, count in counts.most_common(60) if count >= 20]
    assert len(common) > 30 and any("*" in tokens for tokens, _ in common) and any(len(tokens) == 5 for tokens, _ in common)
    for tokens, count in common:
        text = "".join(f"[{token}]" if len(token) > 1 else token for token in tokens)
        assert count == pytest.approx(DRAWN * compiled(Reading.parse(text), misread).weight("HK4127"), abs=4.5 * count**0.5), text
