"""What a wanted net takes, and how much the net hangs on the takings, against published figures."""

from __future__ import annotations

from stallkeep.domain.targets import leverage, target
from stallkeep.domain.what_if import Basis


def a_basis(price: int, variable: int, fixed: int, pieces: int) -> Basis:
    """An event that sold so many pieces of one kind; amounts in whole money."""
    return Basis(
        currency="USD",
        takings_minor=price * pieces * 100,
        tax_minor=0,
        fees_minor=0,
        goods_minor=variable * pieces * 100,
        fixed_minor=fixed * 100,
        pieces=pieces,
        days=1,
    )


def test_a_wanted_net_takes_so_many_pieces_and_takings() -> None:
    # OpenStax Principles of Accounting Vol. 2, break-even and target profit: 100, 20, 18000.
    basis = a_basis(100, 20, 18000, pieces=300)
    at_16000 = target(basis, 16000_00)
    assert (at_16000.pieces, at_16000.more_pieces, at_16000.takings_minor) == (425, 125, 42500_00)
    assert at_16000.sentence == (
        "To earn a net of 16000.00, 425 pieces must be sold, 125 more than were: takings of "
        "42500.00 at this event's prices and costs."
    )
    even = target(basis, 0)
    assert (even.pieces, even.takings_minor) == (225, 22500_00)
    # The same chapter: 400, 150, 14000 and a target of 10000; 500, 300, 100000 and 50000.
    for price, variable, fixed, wanted, pieces in (
        (400, 150, 14000, 10000, 96),
        (500, 300, 100000, 50000, 750),
    ):
        found = target(a_basis(price, variable, fixed, pieces=100), wanted * 100)
        assert (found.pieces, found.takings_minor) == (pieces, pieces * price * 100)


def test_income_tax_is_earned_first() -> None:
    # The same chapter: 24000 after 40 per cent are 40000 before: 725 units, 72500.
    found = target(a_basis(100, 20, 18000, pieces=300), 24000_00, 400_000)
    assert (found.before_tax_minor, found.pieces, found.takings_minor) == (
        40000_00,
        725,
        72500_00,
    )
    assert found.sentence.startswith("To keep 24000.00 after income tax, a net of 40000.00, 725 ")


def test_whole_pieces_are_rounded_up_and_a_loss_bears_no_tax() -> None:
    # A T-shirt kiosk (OpenStax, chapter 3): margin 9.50, fixed 700; 73.684 pieces, derived: 74.
    basis = Basis(
        currency="USD",
        takings_minor=100 * 25_00,
        tax_minor=0,
        fees_minor=100 * 50,
        goods_minor=100 * 15_00,
        fixed_minor=700_00,
        pieces=100,
        days=1,
    )
    assert target(basis, 0).pieces == 74
    loss = target(basis, -100_00, 300_000)
    assert (loss.before_tax_minor, loss.pieces) == (-100_00, 64)  # 600 / 9.50 = 63.2
    assert target(basis, -800_00).pieces == 0


def test_no_number_of_pieces_is_enough_where_each_loses_money() -> None:
    found = target(a_basis(10, 12, 100, pieces=5), 50_00)
    assert (found.pieces, found.more_pieces, found.takings_minor) == (None, None, None)
    assert "each one loses money" in found.sentence


def test_operating_leverage() -> None:
    # OpenStax Vol. 2, margin of safety and operating leverage: margin 148000 and 210000 on a
    # profit of 85000 are 1.74 and 2.47; sales 20 % lower bring 34.8 and 49.4 % less.
    for contribution, factor, twentieths in ((148_000, 1.74, 0.348), (210_000, 2.47, 0.494)):
        basis = a_basis(contribution, 0, contribution - 85_000, pieces=1)
        found = leverage(basis)
        assert found.factor_ppm is not None
        assert abs(found.factor_ppm / 1_000_000 - factor) < 0.005
        assert abs(-2 * found.change_minor / 85_000_00 - twentieths) < 0.001
    assert leverage(a_basis(148_000, 0, 63_000, pieces=1)).sentence == (
        "Had takings been a tenth lower, the net would have been 70200.00 instead of 85000.00, for "
        "the costs of the event stay: each per cent of takings moves the net by 1.7 per cent."
    )


def test_an_event_that_did_not_earn_its_costs_has_no_leverage() -> None:
    found = leverage(a_basis(40, 10, 400, pieces=10))
    assert (found.factor_ppm, found.tenth_lower_net_minor, found.change_minor) == (
        None,
        -130_00,
        -30_00,
    )
    assert "did not earn its costs" in found.sentence
