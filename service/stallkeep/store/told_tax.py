"""The tax within a payment where something tells it: its export, or the sale rung up for it."""

from __future__ import annotations


def told_tax(is_wanted: str) -> str:
    """Write the expression for the transaction `t` of the shop `$1`.

    What was rung up tells the tax only of a payment of just that total; of any other it is worked
    out anew. *is_wanted* is an SQL condition under which sales are looked at.
    """
    return f"""case when t.tax_minor is null and {is_wanted} then (
           select told.tax_minor from sale told
            where told.shop_id = $1 and told.transaction_id = t.id and told.state = 'done'
              and told.total_minor = t.amount_minor - coalesce(t.tip_minor, 0))
         else t.tax_minor end"""  # noqa: S608 - made of constants
