"""The settings of the invented shop, as they stand in its shop.toml."""

SHOP = """\
note = "Invented shop: every scent, oil, supplier, customer and number in this folder is made up."
name = "Thistlequay Oils"
currency = "EUR"
country = "IE"
label_rules = "EU"
today = "2026-09-28"            # the day the planner takes for today; delete the line for the real today
money_available = 2600          # to spend before the season pays back
not_products = ["Postage", "Gift wrap", "Gift bag"]

[season]
first_day = 2026-10-19
last_day = 2026-12-17           # last posting day

[bench]
days = ["Tue", "Thu"]
hours_per_day = 5
days_off = [2026-10-29]        # school holidays
setup_minutes = 30              # for each batch, until there are runs enough to learn it
minutes_per_bottle = 3
rate_per_hour = 14

[filling]
headspace_pct = 5
vessel_full_pct = 80
overage_pct = 3
overage_g = 5

[[channel]]
name = "web"
open = "every day"
fee_pct = 3.2
fee_each = 0.15

[[channel]]
name = "market"
open = "market days"
fee_pct = 1.7

[[channel]]
name = "wholesale"
open = "to order"

[[export]]                      # the old web shop: commas, year first
files = "web_old_shop*.csv"
source = "web shop"
channel = "web"
date_order = "year-first"
decimal = "."
refund_orders = "R"
[export.columns]
day = "Ordered at"
item = "Product"
bottles = "Quantity"
price = "Price each"
order = "Order"

[[export]]                      # the new web shop took the last months of the old one along: they overlap
files = "web_new_shop*.csv"
source = "web shop"
channel = "web"
date_order = "day-first"
decimal = ","
refund_status = ["refunded"]
[export.columns]
day = "Date"
item = "Article"
bottles = "Pieces"
price = "Unit price"
order = "Order no."
status = "Status"

[[export]]                      # the card reader on the market stall has no order numbers
files = "card_reader*.csv"
source = "card reader"
channel = "market"
date_order = "day-first"
decimal = "."
[export.columns]
day = "Sale date"
item = "Item"
bottles = "Qty"
amount = "Amount"

[[export]]                      # kept by hand
files = "stockists*.csv"
source = "stockist sheet"
channel = "wholesale"
date_order = "year-first"
decimal = "."
[export.columns]
day = "Day"
item = "Scent"
bottles = "Bottles"
price = "Each"
order = "Order"

[[vessel]]
name = "small beaker"
holds_ml = 400
[[vessel]]
name = "jug"
holds_ml = 600
[[vessel]]
name = "big jug"
holds_ml = 1000

[[scale]]
name = "fine scale"
division_g = 0.01
capacity_g = 300
[[scale]]
name = "kitchen scale"
division_g = 0.1
capacity_g = 3000

[posting]
"United States" = 2026-12-02
"Europe" = 2026-12-09
"Great Britain" = 2026-12-12
"Ireland" = 2026-12-17

[names]                         # other name in a sales file = scent
"Quince Embers" = "Quince Ember"
"Rose of the Saltmarsh" = "Saltmarsh Rose"
"Amber Tern small" = "Amber Tern Mini"
"Trio Box" = "Harbour Trio"
"""
