"""Why: match weights in bits, a sentence each, summing to the stated odds against the rival."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from stallkeep.domain.matching.double_charges import DOUBLE_SPEEDUP
from stallkeep.domain.matching.habits import KINDS
from stallkeep.domain.matching.line_answer import Group, Weight
from stallkeep.domain.matching.line_problem import LineProblem
from stallkeep.domain.matching.modes import MODES
from stallkeep.domain.matching.posterior import LinePosterior, Option
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.when_reasons import when_sentence

LEAST = 1e-9
LIKELY = 0.5
WORTH_SAYING = 0.05  # bits
NUMBER_WORDS = ("no", "one", "two", "three", "four")


def weights_of(problem: Problem, posterior: LinePosterior, option: Option) -> tuple[Weight, ...]:
    """The evidence for *option* against the next-best explanation (or against the best one).

    The bits sum to log2 of the ratio of the two probabilities; what the line's own evidence does
    not explain is the last entry, the pull of all other lines and pieces.
    """
    rival = _rival(posterior, option)
    parts = [
        (_price_bits, _price_sentence),
        (_size_bits, _size_sentence),
        (_words_bits, _words_sentence),
        (_piece_bits, _piece_sentence),
        (_time_bits, _time_sentence),
    ]
    out = []
    for bits_of, sentence_of in parts:
        own, other = (bits_of(problem, posterior, x) for x in (option, rival))
        if abs(own - other) >= WORTH_SAYING:
            sentence = sentence_of(problem, posterior, option)
            if other > own >= 0:  # it does speak for this one, and more so for the other
                sentence = f"of the other explanation: {sentence_of(problem, posterior, rival)}"
            out.append(Weight(bits=own - other, sentence=sentence))
    whole = math.log2(max(option.probability, LEAST) / max(rival.probability, LEAST))
    rest = whole - sum(weight.bits for weight in out)
    return (*out, Weight(bits=rest, sentence=_rest_sentence(problem, posterior)))


def _rest_sentence(problem: Problem, posterior: LinePosterior) -> str:
    day = posterior.problem.line.occurred_on
    stubs = problem.evidence.stubs
    if any(stub.position is not None and stub.day == day for stub in stubs):
        return "how it fits with the order of the stubs, and with all the other payments"
    return "how it fits with all the other payments"


def model_bits(problem: Problem, posterior: LinePosterior, option: Option) -> float:
    """log2 of the model's own weight of one explanation, apart from all other lines."""
    parts = (_price_bits, _size_bits, _words_bits, _piece_bits, _time_bits)
    return sum(bits_of(problem, posterior, option) for bits_of in parts)


def _rival(posterior: LinePosterior, option: Option) -> Option:
    """The strongest other explanation; what was not listed when there is none."""
    for other in posterior.options:
        if other is not option and other.explanation + str(other.item_ids) != (
            option.explanation + str(option.item_ids)
        ):
            return other
    return Option("untagged", (), max(1.0 - option.probability, LEAST))


def _price_bits(problem: Problem, posterior: LinePosterior, option: Option) -> float:
    line = posterior.problem
    if option.explanation == "double_charge":
        return 0.0
    if option.signature < 0:
        return math.log2(max(problem.any_amount.untagged(line.paid), LEAST))
    mix = problem.shares[1] if len(option.item_ids) == 1 else problem.shares[2]
    return math.log2(max(float(line.listed.modes[option.signature] @ mix), LEAST))


def _price_sentence(problem: Problem, posterior: LinePosterior, option: Option) -> str:
    line = posterior.problem
    if option.signature < 0:
        return "a piece without a tag could have had this price"
    members = line.listed.members[option.signature]
    tags = problem.prices[members[members >= 0]]
    if not tags.all():
        return "no price is known for it, so the amount says little"
    return _paid_sentence(problem, line, option, int(tags.sum()))


def _paid_sentence(problem: Problem, line: LineProblem, option: Option, total: int) -> str:
    mix = problem.shares[1] if len(option.item_ids) == 1 else problem.shares[2]
    mode = MODES[int(np.argmax(line.listed.modes[option.signature] * mix))]
    share = float(mix[MODES.index("exact")])
    on = "the tag" if len(option.item_ids) == 1 else "the tags together"
    if mode == "exact":
        return f"paid exactly {on}, as in about {share:.0%} of your sales of that kind"
    gap = problem.money(abs(total - line.paid))
    if mode == "mis_keyed":
        return f"one slip of the finger away from {problem.money(total)} on {on}"
    if mode.startswith("above_"):
        return f"paid {mode.removeprefix('above_')} % more than {on}: a tip, or tax on top"
    if line.paid > total:
        return f"paid {gap} more than {on}: a tip, or no change wanted"
    if mode.startswith("percent_"):
        return f"paid {mode.removeprefix('percent_')} % under {on}"
    return f"paid {gap} under {on}, to a round figure"


def _size_bits(problem: Problem, posterior: LinePosterior, option: Option) -> float:
    kind = problem.shares[0]
    if option.explanation == "double_charge":
        share = float(kind[KINDS.index("double_charge")]) * DOUBLE_SPEEDUP
        return math.log2(max(share, LEAST))
    if option.explanation != "pieces":
        return math.log2(max(float(kind[KINDS.index("untagged")]), LEAST))
    size = len(option.item_ids)
    sets = max(math.comb(max(int(problem.free.sum()), size), size), 1)
    return math.log2(max(float(kind[size - 1]) / sets, LEAST * 1e-9))


def _size_sentence(problem: Problem, posterior: LinePosterior, option: Option) -> str:
    if option.explanation == "double_charge":
        return "the same card amount came minutes before"
    if option.explanation != "pieces":
        return "some sales are of pieces without a tag"
    size = len(option.item_ids)
    share = float(problem.shares[0][size - 1])
    pieces = "piece" if size == 1 else "pieces"
    return f"about {share:.0%} of sales are of {NUMBER_WORDS[size]} {pieces}"


def _words_bits(problem: Problem, posterior: LinePosterior, option: Option) -> float:
    text = posterior.problem.text
    if text is None:
        return 0.0
    if option.explanation != "pieces":
        return -math.log2(max(text.none, LEAST))
    places = [problem.place[item] for item in option.item_ids]
    bits = sum(math.log2(max(float(text.codes[i]), LEAST)) for i in places)
    titles = text.titles if len(places) == 1 else text.in_bundle
    bits += sum(math.log2(float(titles[i])) for i in places)
    return bits + math.log2(max(float(text.sizes[len(places)]), LEAST))


def _words_sentence(problem: Problem, posterior: LinePosterior, option: Option) -> str:
    text = posterior.problem.text
    places = [problem.place[item] for item in option.item_ids]
    if text is not None and any(text.codes[i] > 1 for i in places):
        return "the note names its tag code"
    if text is not None and any(text.titles[i] > 1 for i in places):
        return "the note has words of its title"
    return "the note speaks of something else"


def _piece_bits(problem: Problem, posterior: LinePosterior, option: Option) -> float:
    places = [problem.place[item] for item in option.item_ids]
    return sum(math.log2(max(problem.piece_odds[i], LEAST)) for i in places)


def _piece_sentence(  # noqa: PLR0911 - a table of sentences
    problem: Problem, posterior: LinePosterior, option: Option
) -> str:
    found = [problem.units.pieces[problem.place[item]] for item in option.item_ids]
    if not found:
        return "no piece is missing for it"
    first = [int(np.argmax(problem.units.item == problem.place[p.item_id])) for p in found]
    if any(problem.units.elsewhere[u] > LIKELY for u in first):
        return "it was sold on another channel"
    if any(problem.units.here[u] == 1 for u in first):
        return "somebody saw it still there"
    if any(problem.units.here[u] == 0 for u in first):
        return "somebody looked and it is gone"
    if kept := sum(problem.units.stub[u] == 1 for u in first):
        return _stubs_sentence(int(kept), len(found))
    if any(p.counted_home == 0 for p in found):
        return "it was not there at the count"
    if any(p.counted_home for p in found):
        return "it was counted home"
    return "nothing speaks of it being gone"


def _stubs_sentence(kept: int, pieces: int) -> str:
    if pieces == 1:
        return "its stub was kept"
    return "their stubs were kept" if kept == pieces else f"{kept} of {pieces} stubs were kept"


def _time_bits(problem: Problem, posterior: LinePosterior, option: Option) -> float:
    line = posterior.problem
    text = line.text
    single = len(option.item_ids) == 1
    bits = 0.0
    for item in option.item_ids:
        place = problem.place[item]
        mine = np.nonzero(problem.units.item[line.units] == place)[0]
        if not len(mine):
            continue
        odds = float((line.single if single else line.bundle)[mine].max())
        if text is not None:
            words = (text.titles if single else text.in_bundle)[place]
            odds /= float(text.codes[place] * words)
        bits += math.log2(max(odds, LEAST))
    return bits


def _time_sentence(problem: Problem, posterior: LinePosterior, option: Option) -> str:
    if posterior.problem.line.transaction_id in problem.boosts:
        return "the order of the stubs, or a sale rung up, points to it"
    found = [problem.units.pieces[problem.place[item]] for item in option.item_ids]
    return when_sentence(problem, posterior.problem, found)


def reason_of(
    problem: Problem, posterior: LinePosterior, *, matched: bool, group: Group | None
) -> str:
    """One sentence for the seller."""
    best = posterior.options[0]
    if matched:
        return _telling(problem, posterior, best)
    if group is not None:
        return f"{group.sentence}: the amount alone cannot say which"
    if best.explanation == "double_charge":
        how = "probably" if best.probability >= LIKELY else "perhaps"
        return f"{how} charged twice: the same card amount came minutes before"
    if best.explanation == "untagged":
        return _untagged_reason(posterior)
    alike = sum(1 for o in posterior.options if o.probability > best.probability / 2)
    if alike > 1:
        return f"{alike} explanations are about as likely as each other"
    return f"{best.probability:.0%} likely: {_strongest(weights_of(problem, posterior, best))}"


def _telling(problem: Problem, posterior: LinePosterior, best: Option) -> str:
    """What a seller would point at: a note, a stub, the count; then the price."""
    if not best.item_ids:
        return _strongest(weights_of(problem, posterior, best))
    places = [problem.place[item] for item in best.item_ids]
    units = [int(np.argmax(problem.units.item == place)) for place in places]
    text = posterior.problem.text
    told = []
    if text is not None and any(text.codes[i] > 1 or text.titles[i] > 1 for i in places):
        told.append(_words_sentence(problem, posterior, best))
    if all(problem.units.stub[unit] == 1 for unit in units):
        whose = "its stub was" if len(units) == 1 else "their stubs were"
        told.append(f"{whose} kept that day")
    elif any(math.log2(max(problem.piece_odds[i], LEAST)) >= 1 for i in places):
        told.append(_piece_sentence(problem, posterior, best))
    told.append(_price_sentence(problem, posterior, best))
    return ", and ".join(told[:2])


def _untagged_reason(posterior: LinePosterior) -> str:
    if not len(posterior.problem.listed.sizes):
        return "no piece on the rail comes near this amount"
    return "most likely for something without a tag: no piece left explains the amount well"


def _strongest(weights: Sequence[Weight]) -> str:
    told = [w for w in weights if w.bits > 0]
    return max(told, key=lambda w: w.bits).sentence if told else "it is the likeliest"
