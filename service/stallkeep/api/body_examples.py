"""What a client may send, by the name of the body's type: shown in the documents, and tested."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

_ID: Final = "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f"
_OTHER_ID: Final = "019f1c2e-9c40-7d1e-8a2b-1f2e3d4c5b6a"

BODIES: Final[Mapping[str, Any]] = {
    "ShopChanges": {"match_threshold": 0.98, "languages": ["en", "pt"]},
    "JoinedSaleSaid": {
        "transaction_ids": [_ID],
        "pieces": [{"tag_code": "A17-AH1", "price": "65.00"}],
    },
    "OtherSaleSaid": {"transaction_id": _ID},
    "NewToken": {"name": "Saturday helper", "role": "helper"},
    "NewChannel": {"name": "Harbour stall", "kind": "stall"},
    "ChannelChanges": {"name": "Harbour and quay stalls"},
    "FeeTerms": {
        "parts": [
            {"name": "commission", "percent": "8"},
            {"name": "card fee", "kind": "payment", "percent": "2.75", "fixed": "0.10"},
        ]
    },
    "NewItem": {
        "title": "Navy wool coat",
        "category": "coats",
        "size": "M",
        "price": "40.00",
        "floor": "30.00",
        "cost": "12.00",
    },
    "NewBatch": {"quantity": 12, "cost": "54.00", "acquired_on": "2026-04-30"},
    "BatchChanges": {"cost": "57.50"},
    "ItemChanges": {"price": "38.00", "note": None},
    "NewListing": {"channel_id": _ID, "item_id": _ID, "reference": "A-1042", "price": "44.00"},
    "ListingChanges": {"state": "ended", "ended_on": "2026-05-09"},
    "NewEvent": {
        "channel_id": _ID,
        "name": "Harbour fair",
        "venue": "North quay",
        "starts_on": "2026-05-09",
        "ends_on": "2026-05-10",
        "days": [
            {"day": "2026-05-09", "opens_at": "09:30:00", "pitch_fee": "35.00", "float": "50.00"}
        ],
    },
    "EventChanges": {"state": "closed", "own_minutes": {"selling": 960, "packing": 120}},
    "DayChanges": {"counted_cash": "186.50", "every_cash_sale_noted": True},
    "NewRail": {
        "pieces": [
            {"tag_code": "M4R7HE", "price": "35.00"},
            {"item_id": _ID, "put_out_at": "2026-05-09T13:00:00+01:00"},
        ]
    },
    "NewCount": {"codes": ["M4R-7HE"]},
    "Stubs": {
        "days": [{"day": "2026-05-09", "stubs": [{"tag_code": "M4R-7HE", "price": "35.00"}]}]
    },
    "NewReceiptQuote": {
        "method": "cash",
        "lines": [{"tag_code": "M4R-7HE"}, {"title": "Silk scarf", "price": "12.00"}],
    },
    "NewCost": {"kind": "travel", "amount": "14.20", "tax": "2.66", "event_id": _ID},
    "CostSplit": {
        "by": "shares",
        "events": [{"event_id": _ID, "share": 2}, {"event_id": _OTHER_ID, "share": 1}],
    },
    "TripBody": {
        "distance": "126.4",
        "unit": "km",
        "rate": "0.30",
        "rate_source": "our tax adviser",
        "rate_from": "2026-01-01",
    },
    "CostChanges": {"amount": "15.20"},
    "NewSale": {
        "id": _ID,
        "event_id": _ID,
        "method": "cash",
        "sold_at": "2026-05-09T10:15:00+01:00",
        "lines": [{"tag_code": "M4R-7HE", "price": "35.00"}, {"title": "Button", "price": "2.00"}],
    },
    "WhatIfQuestions": {
        "prices": [{"percent": "-10"}],
        "pitch_fee": "450.00",
        "wanted_net": "300.00",
    },
    "NewForecast": {"event_id": _ID, "wanted_chance": 0.8},
    "NewRailSuggestion": {"event_id": _ID, "size": 60},
    "NewPriceQuote": {"tag_code": "M4R-7HE", "wanted_take_home": "36.00"},
    "PriceRule": {"markup_percent": "10", "offset": "1.50"},
    "PricePoints": {"step": "5.00", "below": "0.01"},
    "NewRailPrices": {"rule": {"markup_percent": "-5"}},
    "Return": {"lines": [1], "refund": "30.00"},
}
