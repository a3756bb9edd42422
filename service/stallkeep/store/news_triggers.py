"""Triggers that note what the matching of channels has to look at again.

What happens to a channel's sales, its stock and what people say of them is noted for the channel's
next run, which looks at nothing else. A run names its channel in ``app.matching``: what it writes
itself is no news to it. Rows that an import brings are noted by their import. They stand in the
database because sales, items and words are written in many places, and one forgotten would leave
an answer standing that no longer holds.
"""

NEWS_OF_LINE = """
create function news_of_line() returns trigger language plpgsql as $body$
begin
    insert into match_news (shop_id, channel_id, kind, subject)
    values (old.shop_id, old.channel_id, 'line', old.id);
    if tg_op = 'DELETE' then
        with gone as (
          delete from match_line where shop_id = old.shop_id and channel_id = old.channel_id
             and transaction_id = old.id
          returning terms
        ), unfound as (
          delete from match_term m using gone cross join lateral unnest(gone.terms) as t (term)
           where m.shop_id = old.shop_id and m.term = t.term and m.transaction_id = old.id
        )
        insert into match_news (shop_id, channel_id, kind, term)
        select old.shop_id, old.channel_id, 'term', t.term
          from gone cross join lateral unnest(gone.terms) as t (term);
    end if;
    return null;
end
$body$
"""
LINE_CHANGED = """
create trigger tell_matching_change after update of kind, amount_minor, currency, occurred_on,
    occurred_at, ordered_at, tip_minor, tax_minor, postage_minor, method, note, title, reference,
    external_id, related_id, quantity, event_id on transaction
for each row when ((old.kind, old.amount_minor, old.currency, old.occurred_on, old.occurred_at,
    old.ordered_at, old.tip_minor, old.tax_minor, old.postage_minor, old.method, old.note,
    old.title, old.reference, old.external_id, old.related_id, old.quantity, old.event_id)
  is distinct from (new.kind, new.amount_minor, new.currency, new.occurred_on, new.occurred_at,
    new.ordered_at, new.tip_minor, new.tax_minor, new.postage_minor, new.method, new.note,
    new.title, new.reference, new.external_id, new.related_id, new.quantity, new.event_id))
execute function news_of_line()
"""
LINE_SETTLED = """
create trigger tell_matching_state after update of match_state, match_reason on transaction
for each row when (new.event_id is null
  and nullif(current_setting('app.matching', true), '') is null
  and (old.match_state, old.match_reason) is distinct from (new.match_state, new.match_reason))
execute function news_of_line()
"""
LINE_GONE = """
create trigger tell_matching_end after delete on transaction
for each row execute function news_of_line()
"""
NEWS_OF_IMPORT = """
create function news_of_import() returns trigger language plpgsql as $body$
begin
    insert into match_news (shop_id, channel_id, kind, subject)
    values (new.shop_id, new.channel_id, 'import', new.id);
    return null;
end
$body$
"""
IMPORT_DONE = """
create trigger tell_matching after update of state on import
for each row when (new.state = 'done' and old.state <> 'done' and new.channel_id is not null)
execute function news_of_import()
"""
NEWS_OF_WORD = """
create function news_of_word() returns trigger language plpgsql as $body$
declare
    word ruling := case when tg_op = 'DELETE' then old else new end;
begin
    insert into match_news (shop_id, channel_id, kind, subject)
    select t.shop_id, t.channel_id, 'line', t.id from transaction t
     where t.shop_id = word.shop_id and t.event_id is null
       and t.id in (word.transaction_id, word.related_transaction_id);
    return null;
end
$body$
"""
WORD_SAID = """
create trigger tell_matching after insert or update or delete on ruling
for each row execute function news_of_word()
"""
NEWS_OF_SALE = """
create function news_of_sale() returns trigger language plpgsql as $body$
declare
    was uuid := case when tg_op <> 'INSERT' then old.transaction_id end;
    becomes uuid := case when tg_op <> 'DELETE' then new.transaction_id end;
    sold sale := case when tg_op = 'DELETE' then old else new end;
begin
    if nullif(current_setting('app.matching', true), '') is not null then
        return null;
    end if;
    insert into match_news (shop_id, channel_id, kind, subject)
    select t.shop_id, t.channel_id, 'line', t.id from transaction t
     where t.shop_id = sold.shop_id and t.event_id is null and t.id in (was, becomes);
    insert into match_news (shop_id, channel_id, kind, subject)
    select distinct l.shop_id, l.channel_id, 'item', l.item_id
      from sale_line s join listing l on l.shop_id = s.shop_id and l.item_id = s.item_id
     where s.shop_id = sold.shop_id and s.sale_id = sold.id;
    return null;
end
$body$
"""
SALE_MADE = """
create trigger tell_matching_new after insert on sale
for each row when (new.origin <> 'match') execute function news_of_sale()
"""
SALE_CHANGED = """
create trigger tell_matching_change
after update of transaction_id, state, channel_id, event_id, sold_on on sale
for each row when ((old.transaction_id, old.state, old.channel_id, old.event_id, old.sold_on)
  is distinct from (new.transaction_id, new.state, new.channel_id, new.event_id, new.sold_on))
execute function news_of_sale()
"""
SALE_GONE = """
create trigger tell_matching_end after delete on sale
for each row when (old.origin <> 'match') execute function news_of_sale()
"""
NEWS_OF_PIECES = """
create function news_of_pieces() returns trigger language plpgsql as $body$
declare
    running uuid := nullif(current_setting('app.matching', true), '')::uuid;
begin
    insert into match_news (shop_id, channel_id, kind, subject)
    select distinct l.shop_id, l.channel_id, 'item', l.item_id
      from sold s join listing l on l.shop_id = s.shop_id and l.item_id = s.item_id
     where l.channel_id is distinct from running;
    return null;
end
$body$
"""
PIECES_SOLD = """
create trigger tell_matching_new after insert on sale_line
referencing new table as sold for each statement execute function news_of_pieces()
"""
PIECES_UNSOLD = """
create trigger tell_matching_end after delete on sale_line
referencing old table as sold for each statement execute function news_of_pieces()
"""
NEWS_OF_PIECE = """
create function news_of_piece() returns trigger language plpgsql as $body$
begin
    insert into match_news (shop_id, channel_id, kind, subject)
    select distinct l.shop_id, l.channel_id, 'item', l.item_id from listing l
     where l.shop_id = new.shop_id and l.item_id in (old.item_id, new.item_id);
    return null;
end
$body$
"""
PIECE_CHANGED = """
create trigger tell_matching_change after update of item_id, quantity, state on sale_line
for each row when ((old.item_id, old.quantity, old.state)
  is distinct from (new.item_id, new.quantity, new.state))
execute function news_of_piece()
"""
NEWS_OF_ITEM = """
create function news_of_item() returns trigger language plpgsql as $body$
begin
    insert into match_news (shop_id, channel_id, kind, subject)
    select distinct l.shop_id, l.channel_id, 'item', l.item_id from listing l
     where l.shop_id = new.shop_id and l.item_id = new.id;
    return null;
end
$body$
"""
ITEM_CHANGED = """
create trigger tell_matching after update of title, tag_code, quantity on item
for each row when ((old.title, old.tag_code, old.quantity)
  is distinct from (new.title, new.tag_code, new.quantity))
execute function news_of_item()
"""
NEWS_OF_LISTINGS = """
create function news_of_listings() returns trigger language plpgsql as $body$
begin
    insert into match_news (shop_id, channel_id, kind, subject)
    select distinct shop_id, channel_id, 'item', item_id from listed;
    return null;
end
$body$
"""
LISTINGS_MADE = """
create trigger tell_matching_new after insert on listing
referencing new table as listed for each statement execute function news_of_listings()
"""
LISTINGS_GONE = """
create trigger tell_matching_end after delete on listing
referencing old table as listed for each statement execute function news_of_listings()
"""
NEWS_OF_LISTING = """
create function news_of_listing() returns trigger language plpgsql as $body$
begin
    insert into match_news (shop_id, channel_id, kind, subject)
    values (old.shop_id, old.channel_id, 'item', old.item_id);
    if (old.channel_id, old.item_id) is distinct from (new.channel_id, new.item_id) then
        insert into match_news (shop_id, channel_id, kind, subject)
        values (new.shop_id, new.channel_id, 'item', new.item_id);
    end if;
    return null;
end
$body$
"""
LISTING_CHANGED = """
create trigger tell_matching_change
after update of channel_id, item_id, reference, price_minor, listed_on, ended_on on listing
for each row when (
     (old.channel_id, old.item_id, old.reference, old.price_minor, old.listed_on, old.ended_on)
  is distinct from
     (new.channel_id, new.item_id, new.reference, new.price_minor, new.listed_on, new.ended_on))
execute function news_of_listing()
"""
NEWS_OF_SHOP = """
create function news_of_shop() returns trigger language plpgsql as $body$
begin
    insert into match_news (shop_id, channel_id, kind)
    select shop_id, id, 'all' from channel where shop_id = new.shop_id;
    return null;
end
$body$
"""
SHOP_CHANGED = """
create trigger tell_matching
after update of currency, time_zone, tax_mode, tax_from, tax_before, match_threshold on shop
for each row when (
     (old.currency, old.time_zone, old.tax_mode, old.tax_from, old.tax_before, old.match_threshold)
  is distinct from
     (new.currency, new.time_zone, new.tax_mode, new.tax_from, new.tax_before, new.match_threshold))
execute function news_of_shop()
"""
NEWS = (
    NEWS_OF_LINE,
    LINE_CHANGED,
    LINE_SETTLED,
    LINE_GONE,
    NEWS_OF_IMPORT,
    IMPORT_DONE,
    NEWS_OF_WORD,
    WORD_SAID,
    NEWS_OF_SALE,
    SALE_MADE,
    SALE_CHANGED,
    SALE_GONE,
    NEWS_OF_PIECES,
    PIECES_SOLD,
    PIECES_UNSOLD,
    NEWS_OF_PIECE,
    PIECE_CHANGED,
    NEWS_OF_ITEM,
    ITEM_CHANGED,
    NEWS_OF_LISTINGS,
    LISTINGS_MADE,
    LISTINGS_GONE,
    NEWS_OF_LISTING,
    LISTING_CHANGED,
    NEWS_OF_SHOP,
    SHOP_CHANGED,
)
NEWS_FUNCTIONS = (
    "line",
    "import",
    "word",
    "sale",
    "pieces",
    "piece",
    "item",
    "listings",
    "listing",
    "shop",
)
