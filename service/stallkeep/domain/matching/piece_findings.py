"""What stubs, counts, looks and sales say of a piece that cannot all be true."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.naming import code_name, piece_name
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.matching.reconciliation import Finding
from stallkeep.domain.tag_codes import normalise


def piece_contradictions(evidence: Evidence) -> Iterator[Finding]:
    """Tell of each piece what disagrees, and of stubs and prices that are of no use."""
    kept = Counter(normalise(stub.code) for stub in evidence.stubs)
    codes = {normalise(piece.tag_code): piece for piece in evidence.pieces if piece.tag_code}
    looks = {ruling.item_id: ruling.still_here for ruling in evidence.piece_rulings}
    for code, number in kept.items():
        if code in codes:
            yield from _of_stubs(codes[code], number, looks.get(codes[code].item_id))
        else:
            yield Finding(
                code="stub-of-unknown-piece",
                sentence=f"A stub says {code_name(code)}, and no piece on the rail has that code.",
            )
    yield from _stub_days(evidence)
    sold = _sold(evidence)
    for piece in evidence.pieces:
        yield from _of_count(piece, looks.get(piece.item_id))
        yield from _of_sales(piece, sold[piece.item_id], looks.get(piece.item_id))


def _of_stubs(piece: RailPiece, number: int, seen: int | None) -> Iterator[Finding]:
    name, left = piece_name(piece), max(piece.quantity, 1) - number
    if left < 0:
        were = "was" if piece.quantity == 1 else "were"
        yield _about(
            piece,
            "more-stubs-than-pieces",
            f"{number} stubs say {name}; {piece.quantity} of it {were} taken.",
        )
    if piece.counted_home and piece.counted_home > left:
        told = f"The stub of {name} was kept, and it was counted home."
        yield _about(piece, "stub-and-count-disagree", told)
    if seen and seen > left:
        told = f"The stub of {name} was kept, and somebody saw it still there."
        yield _about(piece, "stub-and-look-disagree", told)


def _stub_days(evidence: Evidence) -> Iterator[Finding]:
    days = Counter(stub.day for stub in evidence.stubs)
    for day in sorted(days.keys() - set(evidence.days)) if evidence.days else ():
        stubs = "1 stub is" if days[day] == 1 else f"{days[day]} stubs are"
        yield Finding(
            code="stub-day-outside-event",
            sentence=f"{stubs} of {day}, which is no day of the event.",
        )


def _of_count(piece: RailPiece, seen: int | None) -> Iterator[Finding]:
    name, home = piece_name(piece), piece.counted_home
    if home is not None and home > max(piece.quantity, 1):
        told = f"{name} was counted home {home} times, and {piece.quantity} of it taken."
        yield _about(piece, "counted-more-than-taken", told)
    if home is not None and seen is not None and seen != home:
        told = f"Of {name} {home} came home by the count, and somebody saw {seen} still there."
        yield _about(piece, "count-and-look-disagree", told)
    if piece.price_minor is None or piece.price_minor <= 0:
        told = f"{name} has no tag price; amounts cannot point to it."
        yield _about(piece, "piece-without-price", told)


def _of_sales(piece: RailPiece, lines: list[str], seen: int | None) -> Iterator[Finding]:
    name, left = piece_name(piece), max(piece.quantity, 1) - len(lines)
    if seen is not None and lines and seen > left:
        told = f"Somebody said that {name} was sold, and somebody saw it still there."
        yield _about(piece, "confirmed-but-still-here", told, lines)
    elif piece.counted_home is not None and lines and piece.counted_home > max(left, 0):
        told = f"Somebody said that {name} was sold, and it was counted home."
        yield _about(piece, "confirmed-but-counted-home", told, lines)


def _sold(evidence: Evidence) -> dict[str, list[str]]:
    """Lines that a piece was said to be sold by, or entered with; once per piece sold."""
    sold: dict[str, list[str]] = defaultdict(list)
    for ruling in evidence.rulings:
        if ruling.verdict == "confirmed":
            for item in ruling.item_ids:
                sold[item].append(ruling.transaction_id)
    return sold


def _about(piece: RailPiece, code: str, sentence: str, lines: list[str] | None = None) -> Finding:
    return Finding(
        code=code,
        sentence=sentence,
        transaction_ids=tuple(sorted(set(lines or ()))),
        item_ids=(piece.item_id,),
    )
