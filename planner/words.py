"""The glossary: every word and every column of every table, once, with its kind, its unit and what it means."""

from dataclasses import dataclass

TERMS = {
    "scent": "one finished product in one bottle size, by the maker's own name",
    "fragrance oil": "the concentrated scent that is diluted",
    "carrier oil": "the light oil it is diluted in",
    "material": "anything bought: oils, bottles, fitments, caps, dried flowers, labels, boxes",
    "formula": "materials and their percent by weight",
    "fragrance load": "percent by weight of fragrance oil in the finished oil",
    "skin limit": "the supplier certificate's highest percent by weight in the finished product",
    "batch": "one mixing of one formula",
    "lot": "the number of a batch, as it stands on its bottles",
    "run": "making one batch, as written down afterwards",
    "vessel": "the jug or beaker a batch is mixed in",
    "label quantity": "what the label says is inside",
    "fill": "what was put in",
    "headspace": "what must stay empty in the bottle",
    "brimful": "what the whole bottle holds",
    "overage": "the extra weighed because some is always lost",
    "retained sample": "a bottle of the lot kept back",
    "loss": "weighed oil that was rejected, left behind or unexplained",
    "loss share": "(rejected + residue + unexplained) ÷ weighed",
    "yield": "the rest of what was weighed: 1 less the loss share",
    "giveaway": "oil filled above the label quantity",
    "on hand": "stock counted",
    "on the shelf": "for sale that day",
    "sold out": "not for sale for want of stock",
    "season": "first to last selling day, the last usually being the last posting day",
    "bench day": "a day on which batches get made",
    "rest": "days between mixing and selling",
    "contribution": "price less what one more bottle costs in materials and fees",
    "left over": "bottles still there when the season ends",
    "sample path": "one way the season may go, bottle by bottle and week by week; a forecast is many of them",
    "set aside": "a line of a file that is not counted, kept with its reason",
}


@dataclass(frozen=True)
class Column:
    """What one column holds: its kind (text, number, count, date or flag), its unit and its meaning."""

    kind: str
    unit: str
    meaning: str


def _column(line: str) -> tuple[str, Column]:
    name, kind, unit, meaning = (part.strip() for part in line.split("|"))
    return name, Column(kind, unit, meaning)


# name | kind | unit | meaning
COLUMNS = dict(
    map(
        _column,
        """\
arrives_by | date | | the day it arrives when ordered on the order-by day
abc | text | | class by what it earns: A brings the first 80 % of all, B up to 95 %, C the rest
abs_error | number | bottles | distance of the forecast's middle from what happened
amount | number | | how much there is
assumed | text | | what is taken for granted
at_least | count | batches | make at least so many batches
at_most | count | batches | make at most so many batches
average_pace | number | bottles a week | pace of the average scent, to which paces are drawn the more, the less was sold
batch | text | | number of the batch in the plan
batch_bottles | count | bottles | bottles filled from one batch, rejected and retained ones included
batches | count | batches | whole batches to make
before | number | money | before the change
bench_hours | number | hours | time at the bench
bias_pct | number | % | how far the forecast was too high (or, below zero, too low) altogether
binds | text | | the oil whose limit is reached first
bottle | text | | the bottle: a material in scents.csv, a running number in fills.csv
bottles | count | bottles | number of bottles
bottles_a_year | number | bottles | its pace for a year on the shelf
bottles_filled | count | bottles | bottles filled, rejected and retained ones included
bottles_rejected | count | bottles | bottles filled and not fit for sale
brimful_ml | number | ml | what the bottle holds when full to the brim
category | text | | product category of the limit
certificate | text | | the paper that states the skin limit
certificate_basis | text | | which edition of the standard the certificate follows
certificate_date | date | | date of the certificate
chance_fading | number | share | chance that its pace against all scents fell by a fifth or more in a year
chance_fastest | number | share | chance that this scent is the fastest of the ranked ones
chance_sold_out | number | share | chance of selling out before the season ends
change | number | bottles | how many bottles more or fewer
change_share | number | share | the same as a share of all
channel | text | | where it is sold: web, market, wholesale; "all" where they are not kept apart
channels | text | | channels that have the scent, separated by ; (empty: as its sales say)
column | text | | column of the file
contribution | number | money | expected contribution, less the cost of what is left over
contribution_a_year | number | money | contribution of a year on the shelf
contribution_per_bottle | number | money | price less materials and fees of one more bottle
contribution_per_fragrance_g | number | money per g | contribution of a gram of fragrance oil
contribution_per_hour | number | money | contribution of an hour at the bench
contribution_per_week | number | money | contribution of a week on the shelf
cost | number | money | what it costs
cost_each | number | money | cost of one: a bottle's materials, or a gram or piece
counted | count | lines | lines that count
counted_on | date | | day the stock of a material was counted
date | date | | day
day | date | | day
day_weight | number | | how much is usually sold on such a day in that channel; 1 is the average open day, 0 is closed
denominator | number | | what it is divided by
density_g_per_ml | number | g/ml | density at 20 °C
difference | number | bottles | counted less rolled forward
displaced_ml | number | ml | what takes room inside the bottle: flowers, fitment
earns | number | money | price less all that the bottle costs, the maker's own time included
exactly | count | batches | make exactly so many batches
expected_left_over | number | bottles | bottles left over on average
expected_sold | number | bottles | bottles sold on average
exposure | number | share | share of the week's expected sales that fell on days on the shelf
fading | flag | | whether it is fading for certain
fees | number | money | selling fees of one bottle
file | text | | name of the file
fill_g | number | g | oil in one bottle at the label quantity
fill_ml | number | ml | oil in one bottle at the label quantity
fill_on | date | | day the bottles are filled
filled_g | number | g | oil in the bottles filled
first_day | date | | first day
first_sold | date | | first day it is or was for sale
first_week | count | weeks | weeks since launch, from
fixed_g | number | g | weighed over for each batch, whatever its size
formula | text | | name of the formula
fragrance_g | number | g | fragrance oil
free | count | bottles | bottles given away
giveaway_g | number | g | oil filled above the label quantity in bottles fit for sale
grams | number | g | weight
gross_g | number | g | filled bottle on the scale
guess_high | number | bottles | the maker's high guess for the first season
guess_low | number | bottles | the maker's low guess for the first season
headspace_pct | number | % | share of the brimful bottle that stays empty
held_50 | count | | outcomes inside the range of 5 in 10
held_80 | count | | outcomes inside the range of 8 in 10
held_90 | count | | outcomes inside the range of 9 in 10
hidden | number | bottles | wanted and not there to be bought, in weeks of which only the end is known; estimated
ingredient_name | text | | name on the ingredient list of the label
keeps | number | share | share of a left-over bottle's material cost still worth having
kind | text | | kind of line, material, day or note
known | text | | how it is known: counted, rolled forward, inferred, assumed, or end only (sold out by the week's end)
known_from | text | | where it comes from
label_fl_oz | number | US fl oz | label quantity in US fluid ounces
label_ml | number | ml | label quantity
last_day | date | | last day
last_sold | date | | last day it is for sale
last_week | count | weeks | weeks since launch, to
latest_on | date | | latest bench day on which it can be mixed and still be for sale when the plan counts on it
lead_days | count | days | days from ordering to arrival
like | text | | scents it should sell like, separated by ;
limit_pct | number | % by weight | highest percent by weight in the finished product
line | count | | running number
lines | count | lines | number of lines
lines_read | count | lines | lines found in the file
load_pct | number | % by weight | fragrance load
loss_share | number | share | (rejected + residue + unexplained) ÷ weighed
lot | text | | number of the batch made
market | text | | which market it is
mase | number | times | error of a week, in units of what the same weeks a year before usually miss by
material | text | | name of the material
material_cost | number | money | materials in one bottle
material_lot | text | | the supplier's or the maker's number of a delivery
materials_a_year | number | money | materials in the bottles of a year
mean | number | bottles | average over the sample paths
merged | count | lines | lines that stood in another file of the same source and count once
method | text | | how it was foreseen
minimum_order | number | money | smallest order the supplier takes
minimum_order_missing | number | money | what is missing to the smallest order the supplier takes
minutes | number | minutes | time at the bench
mix_on | date | | day the batch is mixed
money_left | number | money | what is left of the money available
most_affected | text | | the scents it changes most, with bottles
needed | number | | what the plan uses
needed_on | date | | first day on which what is on hand does not suffice
net_g | number | g | oil in the bottle
not_sold_out_pct | number | % | smallest chance wanted of not selling out
note | text | | the maker's own note
now | number | money | as it is now
of | count | | out of so many
oil_cost | number | money | oil for one bottle for sale, what gets lost or is kept back included
oil_cost_per_g | number | money per g | cost of a gram of the finished oil
oil_g | number | g | oil to weigh for the batch
oil_ml | number | ml | oil to weigh for the batch
on_hand | number | | stock counted, rolled forward to the day
on_hand_unit | text | | unit of on hand
on_shelf | number | share | share of the day on the shelf
open_days | number | days | days of that week on which it could have been sold: a channel open and the scent for sale
order | text | | order number
order_by | date | | last day to order so that it arrives in time
p05 | number | bottles | 5 of 100 sample paths stay below
p10 | number | bottles | 10 of 100 sample paths stay below
p25 | number | bottles | 25 of 100 sample paths stay below
p50 | number | bottles | half of the sample paths stay below
p75 | number | bottles | 75 of 100 sample paths stay below
p90 | number | bottles | 90 of 100 sample paths stay below
p95 | number | bottles | 95 of 100 sample paths stay below
pace | number | bottles a week | bottles a week on the shelf, season-adjusted
pace_high | number | bottles a week | high end of its 90 % range
pace_low | number | bottles a week | low end of its 90 % range
pack_cost | number | money | price of one pack
pack_size | number | pack unit | how much is in a pack
pack_unit | text | | unit of the pack size
packing_cost | number | money | bottle and packing for one bottle for sale, those kept back included
packs | count | packs | whole packs to buy
path | count | | number of the sample path
per_bottle | number | unit | how much of it goes with one bottle
pinball | number | bottles | cost of a wrong range
place | text | | place in the ranking, from the first to the last it may hold where that is not certain
price | number | money | price to the customer
rank | count | | first place it may hold; scents that cannot be told apart share a place
rank_to | count | | last place it may hold
ratio | number | times | its pace against the average scent in the same weeks
ratio_high | number | times | high end of its 90 % range
ratio_low | number | times | low end of its 90 % range
ratio_to_last_year | number | times | error against that of last year's numbers
ratio_trend | number | share a year | growth a year against all scents
ratio_trend_high | number | share a year | high end of its 90 % range
ratio_trend_low | number | share a year | low end of its 90 % range
raw_high | number | bottles a week | high end of its exact range by chance alone
raw_low | number | bottles a week | low end of its exact range by chance alone
raw_pace | number | bottles a week | the same from its own sales alone, not drawn to the average
ready_by | date | | day a promise falls due
ready_on | date | | first day it is for sale, after its rest
reason | text | | why it is not counted
received | date | | day a delivery came
refunded | count | bottles | bottles refunded
rejected_g | number | g | oil in rejected bottles
residue_g | number | g | oil left in the vessel, weighed
rest_days | count | days | days between mixing and selling
retained | count | bottles | bottles of each lot kept back
retained_g | number | g | oil in retained bottles
rolled_forward | number | bottles | stock that sales, batches and moves lead to expect
row | count | | row as a spreadsheet counts it, the header being row 1
sales_bottles | count | bottles | bottles sold
scale | text | | the scale to use
scent | text | | the maker's own name of the scent
score | number | | the maker's own mark
season_bottles | number | bottles | bottles in the season
set | text | | name of a gift set
set_aside | count | lines | lines that do not count, each with its reason
share | number | share | share of the whole
shelf_days | number | days | days on the shelf in that week
shelf_weeks | number | weeks | weeks on the shelf
short | number | | what must be bought
since | date | | first week of it
skin_limit_pct | number | % by weight | highest percent by weight in the finished product, from the certificate
slack_days | count | days | days from the planned to the latest day
sold | count | bottles | bottles sold
source | text | | where it comes from
spare_pct | number | % | bought on top for what breaks or is lost
spent_so_far | number | money | spent from today to the end of that week
status | text | | where it stands, in words
substance | text | | restricted or label-worthy substance
supplier | text | | who sells it
take | count | bottles | bottles to take along
tare_g | number | g | the same empty parts on the scale
time_cost | number | money | the maker's own time for one bottle, at rate_per_hour
tolerance_g | number | g | how far the weight may be off, one way only: below zero only less, above zero only more
trend | number | share a year | growth a year
trend_high | number | share a year | high end of its 90 % range
trend_low | number | share a year | low end of its 90 % range
unexplained_g | number | g | weighed oil that nothing accounts for
unit | text | | unit of the amount beside it
unit_price | number | money | price of one bottle on that line
unsold | number | bottles | wanted and not there to be bought; an estimate
unsold_money | number | money | what those would have brought at their prices
use_by | date | | use before this day
usual_fixed_g | number | g | lost by a usual batch, whatever its size
usual_price | number | money | middle price of that week
vessel | text | | vessel used
wanted | number | bottles | bottles that suffice in 9 of 10 ways demand may go
week | date | | first day of the week
weeks_since_launch | count | weeks | weeks since it was first for sale
weighed_g | number | g | oil weighed in
weight_pct | number | % by weight | percent by weight
what | text | | what it is
why | text | | why
worth | number | money | what it is worth at cost
written_off | count | bottles | bottles written off
""".splitlines(),
    )
)
