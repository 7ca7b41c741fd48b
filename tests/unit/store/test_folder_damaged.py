"""A good folder damaged in one way each; the fault is said at the right place."""

from pathlib import Path

import pytest

from bedstone.errors import BadInput
from bedstone.store.folder import read_folder
from fakes.folders import Damage, add, all_of, good_files, put, raw, recoded, swap, without

Case = tuple[str, Damage, str, int | None, str, str]

FILES: list[Case] = [
    ("no settings", without("mill.toml"), "mill.toml", None, "", "no such file"),
    ("needed table gone", without("machines.csv"), "machines.csv", None, "", "no such file"),
    ("empty file", raw("bins.csv", b""), "bins.csv", None, "", "an empty file"),
    ("only a mark", raw("bins.csv", b"\xef\xbb\xbf"), "bins.csv", None, "", "no header line"),
    ("only comments", raw("bins.csv", b"# bins\n"), "bins.csv", None, "", "no header line"),
    ("no rows", raw("people.csv", b"person,name,role\n"), "people.csv", None, "", "no rows"),
    ("utf-16", recoded("firms.csv", "utf-16"), "firms.csv", 1, "", "UTF-16"),
    (
        "another encoding",
        recoded("firms.csv", "cp1252", extra="mueller,Müller,customer\n"),
        "firms.csv",
        5,
        "",
        "0xFC at place 10 of the line",
    ),
    (
        "semicolons",
        raw("people.csv", b"person;name;role\nolga;Olga Fenn;manager\n"),
        "people.csv",
        1,
        "",
        "semicolons",
    ),
    (
        "tabs",
        raw("people.csv", b"person\tname\trole\nolga\tOlga\tmanager\n"),
        "people.csv",
        1,
        "",
        "tabs",
    ),
    ("file misspelt", raw("prodcts.csv", b"a,b\n"), "prodcts.csv", None, "", "products.csv?"),
    ("file in capitals", raw("Limits.CSV", b"a,b\n"), "Limits.CSV", None, "", "limits.csv?"),
    ("spreadsheet", raw("bins.xlsx", b"PK"), "bins.xlsx", None, "", "a spreadsheet"),
    (
        "quote not closed",
        swap("orders", '"call first, gate shut"', '"call first, gate shut'),
        "orders.csv",
        3,
        "",
        "not closed",
    ),
]
SETTINGS: list[Case] = [
    ("not toml", swap("mill.toml", '"SI"', "SI"), "mill.toml", 4, "", "not TOML"),
    ("format 2", swap("mill.toml", "= 1", "= 2"), "mill.toml", 1, "format", "found 2"),
    ("zone", swap("mill.toml", "Chicago", "Chicgo"), "mill.toml", 3, "time_zone", "Chicago?"),
    ("zone a folder", swap("mill.toml", "/Chicago", ""), "mill.toml", 3, "time_zone", "America"),
    ("key", swap("mill.toml", "flush_bin", "flush_bn"), "mill.toml", 6, "flush_bn", "flush_bin?"),
    ("text for number", swap("mill.toml", "40.5", '"40.5"'), "mill.toml", 7, "labour_usd_h", "a n"),
    ("not a number", swap("mill.toml", "40.5", "nan"), "mill.toml", 7, "labour_usd_h", "NaN"),
    ("huge number", swap("mill.toml", "40.5", "1e400"), "mill.toml", 7, "labour_usd_h", "at le"),
    ("no name", swap("mill.toml", 'name = "Rushmere Mill"\n', ""), "mill.toml", None, "name", "no"),
    ("units", swap("mill.toml", '"SI"', '"UK"'), "mill.toml", 4, "units", "one of SI, US"),
    ("locale", add("mill.toml", 'locale = "qq_QQ"'), "mill.toml", 8, "locale", "en_US"),
    ("section", add("mill.toml", "[recrd]"), "mill.toml", 8, "recrd", "record?"),
    (
        "in a section",
        add("mill.toml", "[record]\nadress = 1"),
        "mill.toml",
        9,
        "record.adress",
        "?",
    ),
    (
        "flush bin of another kind",
        swap("mill.toml", '"FL1"', '"SB1"'),
        "mill.toml",
        6,
        "flush_bin",
        "kind surge",
    ),
    ("flush bin unknown", swap("mill.toml", '"FL1"', '"FL9"'), "mill.toml", 6, "flush_bin", "FL1?"),
    (
        "flush material cannot be weighed",
        swap("mill.toml", '"BARLEY-G"', '"BARLEY"'),
        "mill.toml",
        5,
        "flush_material",
        "scale of MX1",
    ),
]
HEADERS: list[Case] = [
    ("misspelt", swap("bins", ",flow,", ",flwo,"), "bins.csv", 1, "flwo", "flow?"),
    ("wrong unit", swap("bins", "capacity_kg", "capacity_stone"), "bins.csv", 1, "capacity_stone",
     'the unit "stone"; allowed: capacity_kg or capacity_lb'),
    ("no unit", swap("bins", "capacity_kg", "capacity"), "bins.csv", 1, "capacity", "without its u"),
    ("missing", swap("scales", ",division_kg", ""), "scales.csv", 1, "division_kg", "no such col"),
    ("doubled", swap("bins", "name,kind", "kind,kind"), "bins.csv", 1, "kind", "again"),
    ("two units", swap("machines", "rate_t_h", "mass_max_lb"), "machines.csv", 1, "mass_max_kg",
     "first as mass_max_lb"),
]  # fmt: skip
CELLS: list[Case] = [
    ("decimal comma", swap("bins", "T01,molasses tank,tank,15000", 'T01,tank,tank,"1,5"'),
     "bins.csv", 5, "capacity_kg", "a point for the decimals"),
    ("comma makes a cell", swap("limits", ",15,,", ",15,5,,"), "limits.csv", 2, "", "8 cells"),
    ("unit in the cell", swap("scales", ",1500,", ",1500 kg,"), "scales.csv", 2, "capacity_kg",
     "the unit stands in the name"),
    ("error cell", swap("ingredients", ",395,", ",#REF!,"), "ingredients.csv", 4, "price_usd_t",
     "spreadsheet error #REF!"),
    ("error cell first", swap("contents", "PREMIX,copper", "#N/A,copper"), "contents.csv", 2,
     "ingredient", "#N/A"),
    ("nan", swap("limits", ",15,", ",nan,"), "limits.csv", 2, "level_mg_kg", '"nan"'),
    ("inf", swap("limits", ",15,", ",inf,"), "limits.csv", 2, "level_mg_kg", '"inf"'),
    ("exponent", swap("limits", ",15,", ",1e400,"), "limits.csv", 2, "level_mg_kg", '"1e400"'),
    ("too many figures", swap("limits", ",15,", f",{'9' * 500},"), "limits.csv", 2, "level_mg_kg",
     "999..."),
    ("zero level", swap("limits", ",15,", ",0,"), "limits.csv", 2, "level_mg_kg", "above 0"),
    ("over 100 %", swap("formula_lines", "1,BARLEY-G,100", "1,BARLEY-G,101"), "formula_lines.csv",
     2, "parts_pct", "to 100 %"),
    ("too dense", swap("ingredients", "1390", "13900"), "ingredients.csv", 5, "density_kg_m3",
     "from 50 to 2500"),
    ("empty needed cell", swap("limits", ",15,,mill policy", ",15,,"), "limits.csv", 2, "source",
     "an empty cell"),
    ("day in another form", swap("formulas", "2,running,olga,2026-08-03", "2,running,olga,8/3/2026"),
     "formulas.csv", 3, "approved_on", "YYYY-MM-DD"),
    ("no such day", swap("formulas", "2,running,olga,2026-08-03", "2,running,olga,2026-02-30"),
     "formulas.csv", 3, "approved_on", "in the calendar"),
    ("moment in another form", swap("orders", "2026-11-24 12:00", "24.11.2026 12:00"), "orders.csv",
     2, "due_at", "YYYY-MM-DD HH:MM"),
    ("day without a time", swap("orders", "2026-11-24 12:00", "2026-11-24"), "orders.csv", 2,
     "due_at", "YYYY-MM-DD HH:MM"),
    ("clock shows it twice", swap("weather", "2026-11-24 05:00", "2026-11-01 01:00"), "weather.csv",
     2, "hour_at", "-05:00 or -06:00"),
    ("clock never shows it", swap("weather", "2026-11-24 05:00", "2026-03-08 02:00"), "weather.csv",
     2, "hour_at", "skipped"),
    ("time of day", swap("shifts", "Tue,06:00", "Tue,6am"), "shifts.csv", 4, "start_time", "HH:MM"),
    ("yes or no", swap("ingredients", "900,,yes", "900,,y"), "ingredients.csv", 6, "hand_add",
     "yes or no"),
    ("choice", swap("people", "manager", "manger"), "people.csv", 2, "role", "manager?"),
    ("choice in capitals", swap("shifts", "Tue", "TUE"), "shifts.csv", 4, "weekday", "Tue?"),
    ("code", swap("substances", "drugx,", "drug x,"), "substances.csv", 3, "substance", "a code"),
    ("code too long", swap("substances", "drugx,", "d" * 41 + ","), "substances.csv", 3,
     "substance", "at most 40"),
    ("text too long", swap("people", "Olga Fenn", "O" * 501), "people.csv", 2, "name", "501 char"),
    ("control character", swap("people", "Olga Fenn", "Olga\x07"), "people.csv", 2, "name",
     "U+0007"),
    ("nothing byte", swap("people", "Olga Fenn", "Olga\x00"), "people.csv", 2, "name", "U+0000"),
    ("whole number", swap("formulas", "GR,1,with", "GR,1.5,with"), "formulas.csv", 2, "version",
     "a whole number"),
]  # fmt: skip
KEYS: list[Case] = [
    ("bin twice", add("bins", "B01,again,ingredient,5,,mass flow,,,0"), "bins.csv", 12, "bin",
     "B01 again, as in row 2"),
    ("weather twice", add("weather", "2026-11-24 12:00Z,1,50"), "weather.csv", 4, "hour_at",
     "again"),
    ("lot twice", add("opening_stock", "B01,BARLEY,L-1,5,2026-11-16 08:00,"), "opening_stock.csv",
     5, "place", "B01, L-1 again"),
    ("unknown ingredient", swap("formula_lines", "2,SBM,18", "2,SMB,18"), "formula_lines.csv", 4,
     "ingredient", "SBM?"),
    ("unknown product", swap("orders", "lowfield,PIG-GR", "lowfield,PIG-GRO"), "orders.csv", 2,
     "product", "PIG-GR"),
    ("unknown firm", swap("orders", "5001,lowfield", "5001,lowfeld"), "orders.csv", 2, "customer",
     "lowfield?"),
    ("unknown feed", swap("bins", "SBM,SC1", "SBM,SC1 SC7"), "bins.csv", 4, "feeds", "SC7"),
    ("unknown on a route", swap("products", "FB1 > SK1|LO1", "FB1 > SK9|LO1"), "products.csv", 2,
     "route", "SK9"),
    ("bin and machine", add("bins", "MX1,x,surge,5,,mass flow,,,0"), "machines.csv", 3, "machine",
     "a bin and a machine at once"),
    ("outside place", add("bins", "Scrap,x,surge,5,,mass flow,,,0"), "bins.csv", 12, "bin",
     "outside the mill"),
    ("material twice", add("ingredients", "CORE,x,grain,600,11,1,,no"), "products.csv", 5,
     "product", "an ingredient and a product at once"),
    ("table left out", without("firms.csv"), "orders.csv", 2, "customer", "lowfield"),
]  # fmt: skip
MACHINES: list[Case] = [
    ("mixer without volume", swap("machines", ",400,3,", ",400,,"), "machines.csv", 3,
     "volume_max_m3", "a mixer needs it"),
    ("fill upside down", swap("machines", "1500,400", "400,1500"), "machines.csv", 3, "mass_min_kg",
     "above the largest batch"),
    ("no rate", swap("machines", "SK1,sacking line,9", "SK1,sacking line,"), "machines.csv", 6,
     "rate_t_h", "needs its throughput"),
    ("draw under division", swap("scales", "0.5,10", "0.5,0.2"), "scales.csv", 2,
     "smallest_draw_kg", "division"),
    ("draw over capacity", swap("scales", "30,0.01,0.2", "30,0.01,31"), "scales.csv", 3,
     "smallest_draw_kg", "capacity"),
    ("scale on a sacking line", swap("scales", "SC1,MX1", "SC1,SK1"), "scales.csv", 2, "machine",
     "SK1, which is a sacking line"),
    ("meter on a grinder", swap("meters", "MX1", "HM1"), "meters.csv", 2, "machine", "a mixer"),
    ("meter under its step", swap("meters", "0.1,2", "0.1,0.05"), "meters.csv", 2,
     "smallest_draw_kg", "step"),
    ("hold-up over capacity", swap("bins", "FL1,flush bin,flush,6000,,mass flow,,,0",
     "FL1,flush bin,flush,6000,,mass flow,,,7000"), "bins.csv", 10, "hold_up_kg", "capacity"),
    ("shift backwards", swap("shifts", "14:00,22:00", "22:00,14:00"), "shifts.csv", 3, "end_time",
     "later than the start"),
    ("shifts overlap", swap("shifts", "14:00,22:00", "13:30,22:00"), "shifts.csv", 3, "start_time",
     "overlaps row 2"),
]  # fmt: skip
WAYS: list[Case] = [
    ("cycle of ways", add("routes", "FB1,MX1,0,100"), "routes.csv", 13, "end", "lead back"),
    ("way to itself", add("routes", "FB1,FB1,0,100"), "routes.csv", 13, "end", "FB1 > FB1"),
    ("no such way", swap("routes", "FB1,LO1,2,30\n", ""), "products.csv", 2, "route", "FB1 > LO1"),
    ("no mixer first", swap("products", "mash,MX1 > FB1", "mash,SB1 > FB1"), "products.csv", 3,
     "route", "a mixer first"),
    ("route broken", swap("products", "mash,MX1 > FB1", "mash,MX1 FB1"), "products.csv", 3, "route",
     "a sign between two codes"),
    ("place twice", swap("products", "mash,MX1 > FB1", "mash,MX1 > FB1 > FB1"), "products.csv", 3,
     "route", "FB1 twice"),
    ("ends at surge", swap("products", "PL1 > FB2", "FB2 > SB1"), "products.csv", 5, "route",
     "SB1 last"),
    ("over an ingredient bin", swap("products", "mash,MX1 > FB1", "mash,MX1 > B01 > FB1"),
     "products.csv", 3, "route", "of kind ingredient"),
    ("no finished bin", swap("products", "mash,MX1 > FB1 > SK1", "mash,MX1 > SK1"), "products.csv",
     3, "route", "no finished bin"),
    ("pellet without line", swap("products", "pellet,MX1 > SB1 > PL1 > FB1", "pellet,MX1 > FB1"),
     "products.csv", 2, "route", "passes no pellet line"),
    ("pellet without die", swap("products", "LO1,4 mm", "LO1,"), "products.csv", 2, "die",
     "a pellet needs one"),
    ("mash through the line", swap("products", "grower,pellet", "grower,mash"), "products.csv", 2,
     "form", "pellet line PL1"),
    ("bag without line", swap("products", "SK1|LO1,4 mm,25", "LO1,4 mm,25"), "products.csv", 2,
     "pack_kg", "no sacking line"),
]  # fmt: skip
RECIPES: list[Case] = [
    ("not 100 %", swap("formula_lines", "2,SBM,18", "2,SBM,17"), "formula_lines.csv", 3,
     "parts_pct", "add up to 99 %; allowed: parts that add up to 100 %; add 1 %"),
    ("a little off", swap("formula_lines", "2,SBM,18", "2,SBM,18.001"), "formula_lines.csv", 3,
     "parts_pct", "100.001 %"),
    ("two running", swap("formulas", "1,withdrawn,,", "1,running,olga,2026-01-02"), "formulas.csv",
     3, "status", "second running version"),
    ("nobody approved", swap("formulas", "PIG-MED,1,running,olga", "PIG-MED,1,running,"),
     "formulas.csv", 4, "approved_by", "names both"),
    ("no day of approval", swap("formulas", "PIG-MED,1,running,olga,2026-08-03",
     "PIG-MED,1,approved,olga,"), "formulas.csv", 4, "approved_on", "names both"),
    ("recipe cycle", swap("formula_lines", "CORE,1,SBM", "CORE,1,SHEEP-TX"), "formula_lines.csv",
     14, "ingredient", "SHEEP-TX > CORE > SHEEP-TX"),
    ("made of itself", swap("formula_lines", "CORE,1,SBM", "CORE,1,CORE"), "formula_lines.csv",
     14, "ingredient", "CORE > CORE"),
    ("lines without version", swap("formulas", "CORE,1,running,olga,2026-08-04\n", ""),
     "formula_lines.csv", 13, "version", "not in formulas.csv"),
    ("version without lines", add("formulas", "CORE,2,draft,,"), "formulas.csv", 7, "version",
     "no lines of CORE version 2"),
    ("part that cannot run", swap("formulas", "CORE,1,running", "CORE,1,approved"),
     "formula_lines.csv", 10, "ingredient", "no formula is running"),
    ("drug not said", swap("products", "25,yes", "25,no"), "products.csv", 3, "medicated", "a drug"),
    ("held nowhere", swap("bins", "SBM,SC1", "BARLEY,SC1"), "formula_lines.csv", 4, "ingredient",
     "no bin gives to a hand-add scale or scale of MX1"),
    ("liquid without meter", swap("bins", "MOLASSES,LM1", "MOLASSES,SC1"), "formula_lines.csv", 5,
     "ingredient", "a meter of MX1"),
    ("hand station has no way", swap("routes", "HA1,MX1,0,100\n", ""), "formula_lines.csv", 6,
     "ingredient", "a hand-add scale of MX1"),
    ("no hand station", all_of(
        swap("machines", "HA1,hand-add station,,,,,0,0\n", ""),
        swap("routes", "HA1,MX1,0,100\n", ""),
        swap("scales", "HS1,HA1", "HS1,MX1"),
     ), "ingredients.csv", 6, "hand_add", "no hand-add station"),
]  # fmt: skip
GOODS: list[Case] = [
    ("ground from itself", swap("ingredients", "195,,no", "195,BARLEY-G,no"), "ingredients.csv", 3,
     "ground_from", "BARLEY > BARLEY-G > BARLEY"),
    ("no grinder", all_of(
        swap("machines", "HM1,grinder,8,,,,0,0\n", ""),
        swap("routes", "B01,HM1,0,100\nHM1,G01,0,100\n", ""),
     ), "ingredients.csv", 3, "ground_from", "no grinder"),
    ("whose limit", swap("limits", ",sheep,copper", ",,copper"), "limits.csv", 2, "product",
     "neither product nor species"),
    ("two owners", swap("limits", ",sheep,copper", "CORE,sheep,copper"), "limits.csv", 2, "product",
     "both a product and a species"),
    ("level without level", swap("limits", "level,15,", "level,,"), "limits.csv", 2, "level_mg_kg",
     "a zero level is never reckoned"),
    ("procedure without flush", swap("limits", ",,200,", ",,,"), "limits.csv", 3, "flush_kg",
     "needs it"),
    ("clean-out with flush", swap("limits", "clean-out,,,", "clean-out,,50,"), "limits.csv", 4,
     "flush_kg", "only a procedure"),
    ("species", swap("limits", ",sheep,copper", ",sheeps,copper"), "limits.csv", 2, "species",
     "sheep?"),
    ("guarantee empty", swap("guarantees", "protein,16,", "protein,,"), "guarantees.csv", 2,
     "minimum", "neither"),
    ("guarantee upside down", swap("guarantees", "0.5,0.9", "0.9,0.5"), "guarantees.csv", 3,
     "minimum", "above the maximum"),
    ("hours overlap", swap("rates", ",12,24,", ",11,24,"), "rates.csv", 3, "start_hour",
     "overlap row 2"),
    ("hours backwards", swap("rates", ",12,24,", ",12,12,"), "rates.csv", 3, "end_hour", "later"),
    ("rate off the route", swap("rates", "PL1,12", "HM1,12"), "rates.csv", 3, "machine",
     "not on the route"),
]  # fmt: skip
ORDERS: list[Case] = [
    ("due before entered", swap("orders", "2026-11-24 12:00", "2026-11-22 12:00"), "orders.csv", 2,
     "due_at", "not after"),
    ("nothing wanted", swap("orders", "PIG-GR,6000", "PIG-GR,0"), "orders.csv", 2, "mass_kg",
     "above 0"),
    ("not a customer", swap("orders", "5001,lowfield", "5001,hauler"), "orders.csv", 2, "customer",
     "which is a carrier"),
    ("bulk without load-out", swap("orders", "1200,bags", "1200,bulk"), "orders.csv", 3, "pack",
     "no load-out"),
    ("bags without a bag", all_of(
        swap("products", "4 mm,25", "4 mm,"), swap("orders", "6000,bulk", "6000,bags"),
     ), "orders.csv", 2, "pack", "has no bag"),
    ("not a supplier", swap("opening_stock", "08:00,stiles", "08:00,hauler"), "opening_stock.csv",
     2, "supplier", "which is a carrier"),
    ("lot of two materials", swap("opening_stock", "L-2", "L-1"), "opening_stock.csv", 3,
     "material", "which is BARLEY in row 2"),
    ("kept for another", swap("opening_stock", "B02,SBM", "B02,BARLEY"), "opening_stock.csv", 4,
     "material", "kept for SBM"),
    ("over capacity", swap("opening_stock", "30000", "50000"), "opening_stock.csv", 2, "mass_kg",
     "40000 kg"),
    ("no bin", swap("opening_stock", "B02,SBM", "HM1,SBM"), "opening_stock.csv", 4, "place", "HM1"),
    ("half past", swap("weather", "05:00", "05:30"), "weather.csv", 2, "hour_at", "start of an h"),
]  # fmt: skip
RARE: list[Case] = [
    ("no mixer", swap("machines", "MX1,mixer,", "MX1,load-out,"), "machines.csv", 2, "kind",
     "no mixer"),
    ("flush without a bin", swap("mill.toml", 'flush_bin = "FL1"\n', ""), "mill.toml", None,
     "flush_bin", "no flush bin"),
    ("settings in utf-16", recoded("mill.toml", "utf-16"), "mill.toml", 1, "", "UTF-16"),
    ("settings empty", raw("mill.toml", b""), "mill.toml", None, "", "lines such as name"),
    ("twenty-five o'clock", swap("shifts", "Tue,06:00", "Tue,25:00"), "shifts.csv", 4,
     "start_time", "from 00:00 to 23:59"),
    ("truth for number", swap("mill.toml", "40.5", "true"), "mill.toml", 7, "labour_usd_h",
     "the truth value"),
    ("no zone", swap("mill.toml", 'time_zone = "America/Chicago"\n', ""), "mill.toml", None,
     "time_zone", "no such key"),
    ("locale no text", add("mill.toml", "locale = 5"), "mill.toml", 8, "locale", "the number 5"),
    ("hour of a rate twice", swap("rates", ",12,24,", ",0,24,"), "rates.csv", 3, "product",
     "again, as in row 2"),
    ("shift twice", swap("shifts", "14:00,22:00", "06:00,22:00"), "shifts.csv", 3, "machine",
     "again, as in row 2"),
    ("too cold", swap("weather", "-2.5,88", "-61,88"), "weather.csv", 2, "temperature_c",
     "from -60 to 60 degrees C"),
    ("version nought", swap("formulas", "GR,1,with", "GR,0,with"), "formulas.csv", 2, "version",
     "at least 1"),
    ("bin kept for another", swap("products", "mash,MX1 > FB1", "mash,MX1 > FB2"), "products.csv",
     3, "route", "kept for CORE"),
    ("endless cell", swap("people", "Olga Fenn", "O" * 140_000), "people.csv", 2, "",
     "an endless cell"),
    ("nested without end", add("mill.toml", "a = " + "[" * 20_000), "mill.toml", 8, "", "not TOML"),
    ("whole number without end", swap("mill.toml", "= 1", f"= {'1' * 5000}"), "mill.toml", 7, "",
     "not TOML"),
    ("key twice", add("mill.toml", "format = 1"), "mill.toml", 8, "", "not TOML"),
    ("list for text", swap("mill.toml", '"SI"', '["SI"]'), "mill.toml", 4, "units", "the list"),
    ("record no section", add("mill.toml", 'record = "x"'), "mill.toml", 8, "record", "[record]"),
    ("setting in two units", add("mill.toml", "sack_kg = 25\nsack_lb = 50"), "mill.toml", 9,
     "sack_lb", "in two units"),
    ("year nought", swap("orders", "2026-11-24 12:00", "0000-11-24 12:00"), "orders.csv", 2,
     "due_at", "in the calendar"),
    ("before all time", swap("orders", "2026-11-24 12:00", "0001-01-01 00:00+14:00"), "orders.csv",
     2, "due_at", "in the calendar"),
    ("too much for milligrams", swap("orders", "PIG-GR,6000", "PIG-GR,10000000000000"),
     "orders.csv", 2, "mass_kg", "never above"),
]  # fmt: skip
CASES = [
    *FILES, *SETTINGS, *HEADERS, *CELLS, *KEYS, *MACHINES, *WAYS, *RECIPES, *GOODS, *ORDERS, *RARE,
]  # fmt: skip


def test_good_folder_is_good(tmp_path: Path):
    """The folder that the other tests damage loads as it stands."""
    loaded = read_folder(put(good_files(), tmp_path))
    assert len(loaded.mill.products) == 4
    assert len(loaded.orders) == 2


@pytest.mark.parametrize("case", CASES, ids=[case[0] for case in CASES])
def test_damage_is_found_where_it_is(tmp_path: Path, case: Case):
    """One damage gives a fault with its file, row and column, what was found and is allowed."""
    _, damage, *place, words = case
    files = good_files()
    damage(files)
    with pytest.raises(BadInput) as caught:
        read_folder(put(files, tmp_path))
    at_place = [
        fault for fault in caught.value.faults if [fault.file, fault.row, fault.column] == place
    ]
    assert at_place, str(caught.value)
    assert any(words in str(fault) for fault in at_place), str(caught.value)
    assert all(fault.found and fault.allowed for fault in caught.value.faults)


def test_names_of_damages_differ():
    """Each damage has its own name, so that a failing one can be told."""
    assert len({case[0] for case in CASES}) == len(CASES)


def test_a_comma_too_many_is_one_fault(tmp_path: Path):
    """A number with a comma moves all cells after it: one fault names the row, none a moved cell."""
    files = good_files()
    swap("orders", "PIG-GR,6000", "PIG-GR,6,000")(files)
    with pytest.raises(BadInput) as caught:
        read_folder(put(files, tmp_path))
    (fault,) = caught.value.faults
    assert (fault.file, fault.row, fault.column) == ("orders.csv", 2, "")
    assert "10 cells" in fault.found
    assert "9 cells" in fault.allowed
