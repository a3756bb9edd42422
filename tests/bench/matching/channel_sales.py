"""Sales of a channel against a whole stock: ``python -m tests.bench.matching.channel_sales [n …]``.

As many sales as items, half with a reference. Titles are an invented name and three words; a
tenth of the sales have a title that is cut short, misspelt, joined or added to, a tenth were sold
under the asking price, and one in twenty is of something that is not in stock, with a title of
the same words. Prints what was matched, the precision of it, processor seconds and peak memory.
"""

from __future__ import annotations

import datetime as dt
import random
import resource
import sys
import time

from tests.bench.matching.worlds import ADJECTIVES, MATERIALS, NOUNS

from stallkeep.domain.matching import Evidence, MoneyLine, RailPiece, reconcile

DAY = dt.date(2031, 5, 10)
SYLLABLES = ["ba", "do", "fi", "gu", "ka", "lo", "mi", "nu", "pe", "ra", "so", "ti", "vu", "ze"]


def a_title(rng: random.Random) -> str:
    """A name nobody has, and what it is."""
    name = "".join(rng.choice(SYLLABLES) for _ in range(rng.randint(2, 4)))
    return f"{name} {rng.choice(ADJECTIVES)} {rng.choice(MATERIALS)} {rng.choice(NOUNS)}"


def altered(rng: random.Random, title: str) -> str:
    """The title as a channel may give it."""
    parts = title.split()
    way = rng.randrange(4)
    if way == 0:
        return " ".join(parts[:-1])
    if way == 1:
        i = rng.randrange(len(title) - 1)
        return title[:i] + title[i + 1] + title[i] + title[i + 2 :]
    if way == 2:
        return " ".join([parts[0], parts[1] + parts[2], parts[3]])
    return f"lovely {title} size M"


def a_channel(number: int, seed: int = 1) -> tuple[Evidence, dict[str, str | None]]:
    """A stock and its sales; the truth is sale → item, None for what is not in stock."""
    rng = random.Random(seed)  # noqa: S311
    pieces = [
        RailPiece(
            item_id=f"i{i}",
            title=a_title(rng),
            price_minor=rng.randrange(5, 120) * 100,
            references=(f"r{i}",),
        )
        for i in range(number)
    ]
    lines, truth = [], {}
    for k, piece in enumerate(rng.sample(pieces, number)):
        known = k % 20 != 19
        title = piece.title if known else a_title(rng)
        price = piece.price_minor or 0
        lines.append(
            MoneyLine(
                transaction_id=f"t{k}",
                kind="sale",
                amount_minor=price if rng.random() < 0.9 else price * 8 // 10,
                occurred_on=DAY,
                title=altered(rng, title) if rng.random() < 0.1 else title,
                reference=piece.references[0] if known and k % 2 == 0 else None,
            )
        )
        truth[f"t{k}"] = piece.item_id if known else None
    return Evidence(scope="channel", pieces=tuple(pieces), lines=tuple(lines)), truth


def main(numbers: list[int]) -> None:
    """Print one line per size."""
    for number in numbers:
        evidence, truth = a_channel(number)
        start = time.process_time()
        result = reconcile(evidence)
        seconds = time.process_time() - start
        weighed = [a for a in result.answers if not a.certain]
        matched = [a for a in weighed if a.state == "matched"]
        right = sum((truth[a.transaction_id],) == a.item_ids for a in matched)
        findable = sum(truth[a.transaction_id] is not None for a in weighed)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        sys.stdout.write(
            f"{number}: {seconds:.2f} s of the processor, {peak:.0f} MB, without a reference "
            f"{right} of {findable} matched, {len(matched) - right} wrong\n"
        )
        sys.stdout.flush()


if __name__ == "__main__":
    main([int(x) for x in sys.argv[1:]] or [10_000, 100_000])
