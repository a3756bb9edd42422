"""Every request that cannot be met is one of these; the category gives the HTTP status.

    StallkeepError
    ├── NotFoundError          404  (another shop's things too)
    ├── NotAllowedError        403
    ├── ConflictError          409
    ├── StaleVersionError      412
    ├── RejectedInputError     422
    └── UnavailableError       503

A subclass carries ``code`` and ``title``, which never change once released; the message is the
``detail``, and keyword facts become extension members of the problem document.
"""

from __future__ import annotations


class StallkeepError(Exception):
    """Base of all errors a client can meet."""

    code: str = ""
    title: str = ""

    def __init__(self, detail: str, **facts: object) -> None:
        super().__init__(detail)
        self.detail = detail
        self.facts = facts


class NotFoundError(StallkeepError):
    """There is no such thing in this shop."""

    code = "not-found"
    title = "Not found"


class NotAllowedError(StallkeepError):
    """The token is good but not for this."""

    code = "not-allowed"
    title = "Not allowed with this token"


class ConflictError(StallkeepError):
    """The request contradicts what is stored."""

    code = "conflict"
    title = "Conflict with what is stored"


class StaleVersionError(StallkeepError):
    """Somebody changed it since it was read."""

    code = "stale-version"
    title = "It was changed since you read it"


class RejectedInputError(StallkeepError):
    """The request is well formed and cannot be accepted."""

    code = "rejected-input"
    title = "Cannot be accepted"


class UnavailableError(StallkeepError):
    """Something the service needs does not answer."""

    code = "unavailable"
    title = "Temporarily unavailable"


class UnsplittableAmountError(RejectedInputError):
    """An amount cannot be split by these weights."""

    code = "unsplittable-amount"
    title = "The amount cannot be split"


class UnknownCurrencyError(RejectedInputError):
    """A currency code is not one of ISO 4217 in use."""

    code = "unknown-currency"
    title = "Unknown currency"


class MoneyTextError(RejectedInputError):
    """A text is not an amount of money in its currency."""

    code = "money-text"
    title = "Not an amount of money"


class TagCodeError(RejectedInputError):
    """A text is not a tag code."""

    code = "tag-code"
    title = "Not a tag code"


class FeeScheduleError(RejectedInputError):
    """A fee schedule contradicts itself or would leave nothing."""

    code = "fee-schedule"
    title = "Not a usable fee schedule"


class PriceOutOfReachError(RejectedInputError):
    """No price brings the wanted amount."""

    code = "price-out-of-reach"
    title = "No price brings that much"


class InvalidInputError(RejectedInputError):
    """A field is missing, unknown or of the wrong shape; ``errors`` says which, and what is."""

    code = "invalid-input"
    title = "A field is not as expected"


class UnstorableValueError(RejectedInputError):
    """A value that no column can hold, such as a text with a NUL character."""

    code = "unstorable-value"
    title = "A value that cannot be stored"


class KeyInUseError(ConflictError):
    """A request with this Idempotency-Key is still being worked on."""

    code = "idempotency-key-in-use"
    title = "The same request is still running"


class KeyReusedError(RejectedInputError):
    """An Idempotency-Key came back with another request."""

    code = "idempotency-key-reused"
    title = "The Idempotency-Key belongs to another request"


class InUseError(ConflictError):
    """Something else still refers to it, so it cannot be removed."""

    code = "in-use"
    title = "Still in use"


class NameTakenError(ConflictError):
    """The shop has another of this name."""

    code = "name-taken"
    title = "The name is taken"


class IdTakenError(ConflictError):
    """A client's own id came back with other content."""

    code = "id-taken"
    title = "The id belongs to something else"


class TaxSettingsError(RejectedInputError):
    """Tax settings are out of range."""

    code = "tax-settings"
    title = "Not usable tax settings"


class UnknownTimeZoneError(RejectedInputError):
    """A time zone is not one of the IANA names."""

    code = "unknown-time-zone"
    title = "Unknown time zone"


class ProblemNotFoundError(NotFoundError):
    """There is no kind of problem with this code."""

    code = "problem-not-found"
    title = "No such kind of problem"


class NeverBreaksEvenError(RejectedInputError):
    """Selling more can never earn the fixed costs."""

    code = "never-breaks-even"
    title = "No number of pieces breaks even"


class TagCodeTakenError(ConflictError):
    """Another piece of the shop has this tag code."""

    code = "tag-code-taken"
    title = "The tag code is taken"


class ReferenceTakenError(ConflictError):
    """The channel has another listing with this reference."""

    code = "reference-taken"
    title = "The reference is taken"


class ItemAlreadySoldError(ConflictError):
    """More pieces would be sold than there are."""

    code = "item-already-sold"
    title = "The piece is already sold"


class PriceRuleError(RejectedInputError):
    """A price rule contradicts itself or another one."""

    code = "price-rule"
    title = "Not a usable price rule"


class MileageRateError(RejectedInputError):
    """No mileage rate is known for the day, or it makes no sense."""

    code = "mileage-rate"
    title = "No usable mileage rate"


class DistanceError(RejectedInputError):
    """A distance is nothing, negative or beyond what anybody drives to a market."""

    code = "distance"
    title = "Not a usable distance"


class CostAmountError(RejectedInputError):
    """A cost is given both as an amount and as a distance, or as neither."""

    code = "cost-amount"
    title = "Either an amount or a distance"


class CostSplitError(RejectedInputError):
    """A cost cannot be shared by these events in this way."""

    code = "cost-split"
    title = "The cost cannot be shared like this"


class StockLotError(RejectedInputError):
    """More pieces are sold than ever came in."""

    code = "stock-lot"
    title = "Not that many pieces in stock"


class ForecastInputError(RejectedInputError):
    """A forecast cannot be made from this."""

    code = "forecast-input"
    title = "Not enough to forecast from"
