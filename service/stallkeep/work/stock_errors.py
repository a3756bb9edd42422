"""What can be missing or in the way when the stock is kept."""

from __future__ import annotations

from stallkeep.domain.errors import ConflictError, NotFoundError, RejectedInputError


class ItemNotFoundError(NotFoundError):
    """There is no such item."""

    code = "item-not-found"
    title = "No such item"


class BatchNotFoundError(NotFoundError):
    """The item has no such batch."""

    code = "batch-not-found"
    title = "No such batch"


class ChannelNotFoundError(NotFoundError):
    """There is no such channel."""

    code = "channel-not-found"
    title = "No such channel"


class FeesNotFoundError(NotFoundError):
    """The channel has no fee schedule beginning on this day."""

    code = "fees-not-found"
    title = "No fee schedule from that day"


class ListingNotFoundError(NotFoundError):
    """There is no such listing."""

    code = "listing-not-found"
    title = "No such listing"


class DayNotFoundError(NotFoundError):
    """The event has no such day."""

    code = "day-not-found"
    title = "No such day of the event"


class CostNotFoundError(NotFoundError):
    """There is no such cost."""

    code = "cost-not-found"
    title = "No such cost"


class SaleNotFoundError(NotFoundError):
    """There is no such sale."""

    code = "sale-not-found"
    title = "No such sale"


class TokenNotFoundError(NotFoundError):
    """There is no such token."""

    code = "token-not-found"
    title = "No such token"


class ConflictNotFoundError(NotFoundError):
    """There is no such conflict."""

    code = "conflict-not-found"
    title = "No such conflict"


class QuantityBelowSoldError(ConflictError):
    """The quantity would be less than what is sold already."""

    code = "quantity-below-sold"
    title = "More than that is sold already"


class ItemInBatchesError(ConflictError):
    """An item's quantity and cost were to be set, and they come from its batches."""

    code = "item-in-batches"
    title = "Its pieces are held in batches"


class ItemCostUnknownError(ConflictError):
    """The pieces an item has so far cannot become a batch: their cost is not known."""

    code = "item-cost-unknown"
    title = "The pieces there so far have no cost"


class QuantityTooLargeError(RejectedInputError):
    """An item would have more pieces than one may have."""

    code = "quantity-too-large"
    title = "Too many pieces"


class DayHasFiguresError(ConflictError):
    """A day that would fall out of the event has money entered."""

    code = "day-has-figures"
    title = "The day has figures"


class LastOwnerError(ConflictError):
    """Without this token nobody could manage the shop."""

    code = "last-owner"
    title = "The last owner's token"


class SaleOfMatchError(ConflictError):
    """The sale was made by matching a payment; it changes with the match."""

    code = "sale-of-match"
    title = "The sale belongs to a match"


class SaleIsVoidError(ConflictError):
    """The sale was taken back as a whole."""

    code = "sale-is-void"
    title = "The sale is void"


class NoStallError(RejectedInputError):
    """An event is to be held on an online channel."""

    code = "no-stall"
    title = "An event is not held online"

    def __init__(self, detail: str) -> None:
        super().__init__(detail, errors=[{"detail": detail, "pointer": "#/channel_id"}])


class SaleMisplacedError(RejectedInputError):
    """A sale is said to be of an event whose channel or days it does not fit."""

    code = "sale-misplaced"
    title = "The sale does not fit its event"

    def __init__(self, detail: str, pointer: str) -> None:
        super().__init__(detail, errors=[{"detail": detail, "pointer": pointer}])


class UnknownReferenceError(RejectedInputError):
    """The request names something that the shop does not have; ``errors`` says where."""

    code = "unknown-reference"
    title = "It names something the shop does not have"

    def __init__(self, detail: str, pointer: str) -> None:
        super().__init__(detail, errors=[{"detail": detail, "pointer": pointer}])
