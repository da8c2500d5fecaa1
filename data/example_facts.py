"""The invented shop as its maker would write it down: the files of the example folder that do not come from chance.

Nothing here is real: shop, scents, oils, suppliers, stockists, customers and numbers are made up for this example.
"""

SCENTS = """\
scent,formula,bottle,label_ml,label_fl_oz,price,batch_bottles,rest_days,first_sold,last_sold,like,guess_low,guess_high,keeps,retained,channels
Tidewrack,Tidewrack,Bottle 10 ml,10,,18.00,48,7,2022-03-12,,,,,0.9,1,
Quince Ember,Quince Ember,Bottle 10 ml,10,,18.00,48,10,2022-03-12,,,,,0.9,1,
Clove Ferry,Clove Ferry,Bottle 10 ml,10,,18.00,36,10,2022-10-01,,,,,0.8,1,
Saltmarsh Rose,Saltmarsh Rose,Bottle 10 ml,10,,19.50,36,7,2022-03-12,,,,,0.9,1,
Fig Boathouse,Fig Boathouse,Bottle 10 ml,10,,18.00,36,7,2022-06-04,,,,,0.9,1,
Peatsmoke Pear,Peatsmoke Pear,Bottle 10 ml,10,,19.50,36,14,2022-09-10,,,,,0.9,1,
Amber Tern,Amber Tern,Bottle 10 ml,10,,20.50,36,10,2022-03-12,,,,,0.9,1,
Larkmilk,Larkmilk,Bottle 10 ml,10,,17.00,24,7,2023-02-04,,,,,0.9,1,
Moss Parade,Moss Parade,Bottle 10 ml,10,,17.00,24,7,2022-06-04,,,,,0.9,1,
Amber Tern Mini,Amber Tern,Bottle 5 ml,5,,14.00,36,10,2024-03-02,,Amber Tern,,,0.9,1,
Plum Lantern,Plum Lantern,Bottle 10 ml,10,,19.50,36,10,2026-04-18,,Quince Ember; Fig Boathouse,70,190,0.9,1,
Bog Myrtle Rain,Bog Myrtle Rain,Bottle 10 ml,10,,17.00,24,7,2024-02-03,,,,,0.5,1,
"""

SETS = """\
set,scent,bottles
Harbour Trio,Tidewrack,1
Harbour Trio,Saltmarsh Rose,1
Harbour Trio,Fig Boathouse,1
"""
SET, SET_PRICE, SET_HOLDS = "Harbour Trio", 48.0, ("Tidewrack", "Saltmarsh Rose", "Fig Boathouse")

# formula: its fragrance oils with their percent by weight; the rest is carrier oil and 0.5 % of vitamin E
LOADS = {
    "Tidewrack": {"Tidewrack oil": 16},
    "Quince Ember": {"Quince Ember oil": 18},
    "Clove Ferry": {"Clove Ferry oil": 14},
    "Saltmarsh Rose": {"Saltmarsh Rose oil": 15},
    "Fig Boathouse": {"Fig Boathouse oil": 17.5},
    "Peatsmoke Pear": {"Peatsmoke oil": 6, "Pear skin oil": 9},
    "Amber Tern": {"Amber Tern oil": 20},
    "Larkmilk": {"Larkmilk oil": 12},
    "Moss Parade": {"Moss Parade oil": 15},
    "Plum Lantern": {"Plum oil": 12, "Clove Ferry oil": 3},
    "Bog Myrtle Rain": {"Bog Myrtle oil": 13},
}
CARRIER, VITAMIN = "Coconut carrier oil", "Vitamin E"
VITAMIN_PCT = 0.5

# Moss Parade oil came without its certificate: no skin limit, so no sheet for it
MATERIALS = """\
material,kind,density_g_per_ml,brimful_ml,skin_limit_pct,ingredient_name,spare_pct
Coconut carrier oil,carrier oil,0.945,,,Caprylic/Capric Triglyceride,
Vitamin E,additive,0.951,,,Tocopherol,
Tidewrack oil,fragrance oil,0.962,,24,Parfum,
Quince Ember oil,fragrance oil,1.012,,22.5,Parfum,
Clove Ferry oil,fragrance oil,1.034,,17,Parfum,
Saltmarsh Rose oil,fragrance oil,0.978,,31,Parfum,
Fig Boathouse oil,fragrance oil,0.986,,27,Parfum,
Peatsmoke oil,fragrance oil,1.021,,18,Parfum,
Pear skin oil,fragrance oil,0.941,,40,Parfum,
Amber Tern oil,fragrance oil,1.046,,29,Parfum,
Larkmilk oil,fragrance oil,0.997,,35,Parfum,
Moss Parade oil,fragrance oil,0.958,,,Parfum,
Plum oil,fragrance oil,1.003,,26,Parfum,
Bog Myrtle oil,fragrance oil,0.921,,16,Parfum,
Juniper Slate oil,fragrance oil,0.905,,19,Parfum,
Bottle 10 ml,bottle,,11.6,,,2
Bottle 5 ml,bottle,,6.3,,,2
Roller ball,fitment,,,,,3
Cap,cap,,,,,3
Dried rose petals,dried flowers,,,,,
Dried larkspur,dried flowers,,,,,
Label,label,,,,,5
Box,box,,,,,2
Trio box,box,,,,,
"""

PACKS = """\
material,supplier,pack_size,pack_unit,pack_cost,lead_days,minimum_order
Coconut carrier oil,Oilhouse Tully,1,l,14.80,5,
Coconut carrier oil,Oilhouse Tully,5,l,58.00,5,
Vitamin E,Oilhouse Tully,100,ml,7.90,5,
Tidewrack oil,Dunmarra Aromas,250,g,31.50,9,40
Tidewrack oil,Dunmarra Aromas,1,kg,104.00,9,40
Quince Ember oil,Dunmarra Aromas,250,g,34.00,9,40
Quince Ember oil,Dunmarra Aromas,1,kg,112.00,9,40
Clove Ferry oil,Dunmarra Aromas,250,g,29.00,9,40
Saltmarsh Rose oil,Petrel & Vat,100,g,19.80,14,
Saltmarsh Rose oil,Petrel & Vat,500,g,81.00,14,
Fig Boathouse oil,Dunmarra Aromas,250,g,33.00,9,40
Peatsmoke oil,Petrel & Vat,100,g,21.50,14,
Pear skin oil,Petrel & Vat,100,g,15.90,14,
Amber Tern oil,Petrel & Vat,100,g,24.50,14,
Amber Tern oil,Petrel & Vat,500,g,99.00,14,
Larkmilk oil,Dunmarra Aromas,250,g,30.50,9,40
Moss Parade oil,Fennet Supply,100,g,16.50,21,
Plum oil,Dunmarra Aromas,250,g,32.00,9,40
Bog Myrtle oil,Fennet Supply,100,g,17.50,21,
Juniper Slate oil,Fennet Supply,50,g,9.50,21,
Bottle 10 ml,Kesh Glass,100,pieces,58.00,12,60
Bottle 10 ml,Kesh Glass,500,pieces,245.00,12,60
Bottle 5 ml,Kesh Glass,50,pieces,26.00,12,60
Roller ball,Kesh Glass,100,pieces,12.00,12,60
Cap,Kesh Glass,100,pieces,14.00,12,60
Dried rose petals,Oilhouse Tully,50,g,6.20,5,
Dried larkspur,Oilhouse Tully,25,g,5.40,5,
Label,Inchmore Print,250,pieces,39.00,7,
Box,Inchmore Print,100,pieces,27.00,10,
Trio box,Inchmore Print,25,pieces,31.00,10,
"""

# one delivery of Clove Ferry oil is past its use-by day; two oils lie there without a certificate
LOTS = """\
material,material_lot,received,on_hand,on_hand_unit,counted_on,use_by,certificate,certificate_date,certificate_basis
Coconut carrier oil,T-2611,2026-03-16,0,g,2026-09-26,2028-03-01,,,
Coconut carrier oil,T-2644,2026-07-06,3850,g,2026-09-26,2028-07-01,,,
Vitamin E,T-2507,2025-07-14,38,g,2026-09-26,2027-07-01,,,
Tidewrack oil,D-881,2026-02-09,410,g,2026-09-26,2027-08-01,Tidewrack certificate,2025-11-03,51st Amendment
Quince Ember oil,D-882,2026-02-09,190,g,2026-09-26,2027-08-01,Quince Ember certificate,2025-11-03,51st Amendment
Clove Ferry oil,D-845,2025-10-06,35,g,2026-09-26,2026-08-31,Clove Ferry certificate,2025-09-15,51st Amendment
Clove Ferry oil,D-883,2026-02-09,160,g,2026-09-26,2027-08-01,Clove Ferry certificate,2025-09-15,51st Amendment
Saltmarsh Rose oil,PV-310,2026-01-19,140,g,2026-09-26,2027-06-01,Saltmarsh Rose certificate,2025-06-20,51st Amendment
Fig Boathouse oil,D-884,2026-02-09,230,g,2026-09-26,2027-08-01,Fig Boathouse certificate,2025-11-03,51st Amendment
Peatsmoke oil,PV-311,2026-01-19,75,g,2026-09-26,2027-06-01,Peatsmoke certificate,2025-06-20,51st Amendment
Pear skin oil,PV-312,2026-01-19,90,g,2026-09-26,2027-06-01,Pear skin certificate,2025-06-20,51st Amendment
Amber Tern oil,PV-318,2026-04-13,260,g,2026-09-26,2027-09-01,Amber Tern certificate,2025-06-20,51st Amendment
Larkmilk oil,D-885,2026-02-09,170,g,2026-09-26,2027-08-01,,,
Moss Parade oil,F-57,2026-01-26,120,g,2026-09-26,2027-05-01,,,
Plum oil,D-890,2026-03-02,240,g,2026-09-26,2027-09-01,Plum certificate,2026-01-12,51st Amendment
Bog Myrtle oil,F-49,2024-01-15,55,g,2026-09-26,2026-12-31,Bog Myrtle certificate,2023-11-20,51st Amendment
Juniper Slate oil,F-61,2026-08-17,42,g,2026-09-26,2027-12-01,Juniper Slate certificate,2026-05-04,51st Amendment
Bottle 10 ml,K-204,2026-06-15,610,pieces,2026-09-26,,,,
Bottle 5 ml,K-205,2026-06-15,70,pieces,2026-09-26,,,,
Roller ball,K-206,2026-06-15,720,pieces,2026-09-26,,,,
Cap,K-207,2026-06-15,690,pieces,2026-09-26,,,,
Dried rose petals,T-2650,2026-07-06,38,g,2026-09-26,2027-07-01,,,
Dried larkspur,T-2651,2026-07-06,9,g,2026-09-26,2027-07-01,,,
Label,I-33,2026-05-04,840,pieces,2026-09-26,,,,
Box,I-34,2026-05-04,460,pieces,2026-09-26,,,,
Trio box,I-35,2026-05-04,31,pieces,2026-09-26,,,,
"""

CONSTITUENTS = """\
material,substance,weight_pct
Tidewrack oil,Linalool,4.1
Tidewrack oil,Limonene,6.2
Quince Ember oil,Coumarin,2.4
Quince Ember oil,Cinnamal,0.6
Quince Ember oil,Citral,1.1
Clove Ferry oil,Eugenol,9.5
Clove Ferry oil,Isoeugenol,0.35
Saltmarsh Rose oil,Citronellol,7.8
Saltmarsh Rose oil,Geraniol,5.4
Saltmarsh Rose oil,Hydroxycitronellal,1.9
Plum oil,Coumarin,1.8
Plum oil,Citral,0.9
Larkmilk oil,Linalool,5.6
Larkmilk oil,Hydroxycitronellal,3.2
"""

LIMITS = """\
substance,limit_pct,category,source
Citral,0.60,4,"49th Amendment, read at second hand; confirm on your certificate"
Geraniol,4.7,4,"49th Amendment, from memory; confirm on your certificate"
Eugenol,2.5,4,"49th Amendment, from memory; confirm on your certificate"
Hydroxycitronellal,2.1,4,"49th Amendment, from memory; confirm on your certificate"
Coumarin,1.5,4,"49th Amendment, from memory; confirm on your certificate"
Cinnamal,0.25,4,"49th Amendment, from memory; confirm on your certificate"
Isoeugenol,0.11,4,"49th Amendment, from memory; confirm on your certificate"
Citronellol,12,4,"49th Amendment, from memory; confirm on your certificate"
"""

WISHES = """\
scent,at_least,at_most,exactly,not_sold_out_pct
Tidewrack,,,,95
Bog Myrtle Rain,,0,,
"""

ORDERS = """\
order,scent,bottles,ready_by
Ardnamona Gallery November,Tidewrack,12,2026-11-06
Ardnamona Gallery November,Clove Ferry,12,2026-11-06
"""

TRIALS = """\
material,load_pct,day,note,score
Juniper Slate oil,8,1,"thin, mostly the carrier",2
Juniper Slate oil,8,7,"clearer, green at the start",3
Juniper Slate oil,12,1,sharp,2
Juniper Slate oil,12,7,"round, lasts the morning",4
Juniper Slate oil,16,7,too loud after an hour,3
"""

OVERRIDES = """\
date,what,why
2026-09-14,Larkmilk oil,"certificate mislaid; the supplier wrote that the limit is 35 % and sends a copy"
"""
