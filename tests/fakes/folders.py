"""A small good mill folder as texts, and how to put it on disk or damage it. All invented."""

from collections.abc import Callable
from pathlib import Path

Files = dict[str, bytes]
Damage = Callable[[Files], None]

TEXTS: dict[str, str] = {
    "mill.toml": """\
format = 1
name = "Rushmere Mill"
time_zone = "America/Chicago"
units = "SI"
flush_material = "BARLEY-G"
flush_bin = "FL1"
labour_usd_h = 40.5
""",
    "people": """\
person,name,role
olga,Olga Fenn,manager
tim,Tim Rood,batch operator
""",
    "firms": """\
firm,name,role
stiles,Stiles Grain,supplier
lowfield,Lowfield Farm,customer
hauler,Dune Haulage,carrier
""",
    "bins": """\
bin,name,kind,capacity_kg,volume_m3,flow,holds,feeds,hold_up_kg
B01,barley bin,ingredient,40000,,funnel flow,BARLEY,,0
G01,ground barley bin,ground,20000,33,mass flow,BARLEY-G,SC1,0
B02,soybean meal bin,ingredient,20000,,mass flow,SBM,SC1,0
T01,molasses tank,tank,15000,,well mixed,MOLASSES,LM1,0
FLOOR,premix floor,floor,5000,,kept apart,,HS1,0
SB1,surge bin,surge,4000,,mass flow,,,2
FB1,finished bin 1,finished,8000,,mass flow,,,4
FB2,pellet bin,finished,8000,,mass flow,CORE,SC1,4
FL1,flush bin,flush,6000,,mass flow,,,0
WH1,warehouse,warehouse,90000,,kept apart,,,0
""",
    "machines": """\
machine,kind,rate_t_h,mass_max_kg,mass_min_kg,volume_max_m3,dry_mix_s,hold_up_kg
HM1,hammer mill,8,,,,0,0
MX1,mixer,,1500,400,3,180,6
HA1,hand-add station,,,,,0,0
PL1,pellet line,4,,,,0,15
SK1,sacking line,9,,,,0,3
LO1,load-out,40,,,,0,5
""".replace("hammer mill", "grinder"),
    "scales": """\
scale,machine,capacity_kg,division_kg,smallest_draw_kg
SC1,MX1,1500,0.5,10
HS1,HA1,30,0.01,0.2
""",
    "meters": """\
meter,machine,division_kg,smallest_draw_kg,rate_t_h
LM1,MX1,0.1,2,6
""",
    "routes": """\
start,end,hold_up_kg,exchange_pct
B01,HM1,0,100
HM1,G01,0,100
HA1,MX1,0,100
MX1,SB1,4,30
SB1,PL1,1,30
PL1,FB1,3,30
PL1,FB2,3,30
MX1,FB1,5,30
FB1,SK1,2,30
FB1,LO1,2,30
MX1,FL1,0,100
""",
    "shifts": """\
machine,weekday,start_time,end_time
,Mon,06:00,14:00
,Mon,14:00,22:00
,Tue,06:00,14:00
""",
    "ingredients": """\
ingredient,name,ingredient_class,density_kg_m3,moisture_pct_wb,price_usd_t,ground_from,hand_add
BARLEY,"Barley, whole",grain,620,11.5,195,,no
BARLEY-G,"Barley, ground",ground grain,600,11.5,204,BARLEY,no
SBM,Soybean meal,protein meal,640,11,395,,no
MOLASSES,Molasses,liquid,1390,26,180,,no
PREMIX,Mineral premix,micro,1100,4,900,,yes
MEDIC,Medicated premix,drug,700,6,4100,,yes
""",
    "substances": """\
substance,name
copper,Copper
drugx,Drug X
""",
    "contents": """\
ingredient,substance,content_mg_kg,source
PREMIX,copper,4000,maker's label
MEDIC,drugx,200000,maker's label
""",
    "composition": """\
ingredient,nutrient,mean,unit,sd,assays,source
SBM,crude protein,47.6,%,0.9,20,own assays
""",
    "products": """\
product,name,species,life_stage,form,route,die,pack_kg,medicated,density_kg_m3,price_usd_t
PIG-GR,Pig Grower,swine,grower,pellet,MX1 > SB1 > PL1 > FB1 > SK1|LO1,4 mm,25,no,620,320
PIG-MED,Pig Grower X,swine,grower,mash,MX1 > FB1 > SK1,,25,yes,600,350
SHEEP-TX,Sheep Sweet,sheep,ewes,textured,MX1 > FB1 > SK1,,20,no,560,390
CORE,Sheep Core Pellet,sheep,all,pellet,MX1 > SB1 > PL1 > FB2,4 mm,,no,630,300
""",
    "rates": """\
product,machine,start_hour,end_hour,rate_t_h
PIG-GR,PL1,0,12,3.5
PIG-GR,PL1,12,24,3
""",
    "guarantees": """\
product,nutrient,minimum,maximum,unit
PIG-GR,crude protein,16,,%
PIG-GR,calcium,0.5,0.9,%
""",
    "formulas": """\
product,version,status,approved_by,approved_on
PIG-GR,1,withdrawn,,
PIG-GR,2,running,olga,2026-08-03
PIG-MED,1,running,olga,2026-08-03
SHEEP-TX,1,running,olga,2026-08-04
CORE,1,running,olga,2026-08-04
""",
    "formula_lines": """\
product,version,ingredient,parts_pct
PIG-GR,1,BARLEY-G,100
PIG-GR,2,BARLEY-G,78.5
PIG-GR,2,SBM,18
PIG-GR,2,MOLASSES,2
PIG-GR,2,PREMIX,1.5
PIG-MED,1,BARLEY-G,80
PIG-MED,1,SBM,19.5
PIG-MED,1,MEDIC,0.5
SHEEP-TX,1,CORE,40
SHEEP-TX,1,BARLEY-G,54
SHEEP-TX,1,MOLASSES,6
CORE,1,BARLEY-G,70
CORE,1,SBM,30
""",
    "limits": """\
product,species,substance,kind,level_mg_kg,flush_kg,source
,sheep,copper,level,15,,mill policy
SHEEP-TX,,drugx,procedure,,200,21 CFR 225.65
PIG-GR,,drugx,clean-out,,,mill policy
""",
    "orders": """\
order,customer,product,mass_kg,pack,entered_at,due_at,status,note
5001,lowfield,PIG-GR,6000,bulk,2026-11-23 09:00,2026-11-24 12:00,open,
5002,lowfield,SHEEP-TX,1200,bags,2026-11-23 10:15,2026-11-24 15:00,open,"call first, gate shut"
""",
    "opening_stock": """\
place,material,lot,mass_kg,received_at,supplier
B01,BARLEY,L-1,30000,2026-11-16 08:00,stiles
G01,BARLEY-G,L-2,9000,2026-11-20 08:00,
B02,SBM,L-3,12000,2026-11-17 11:30,stiles
""",
    "weather": """\
hour_at,temperature_c,humidity_pct
2026-11-24 05:00,-2.5,88
2026-11-24 06:00,-2,86
""",
}


def file_name(table: str) -> str:
    """The file of a table; mill.toml is its own."""
    return table if "." in table else f"{table}.csv"


def good_files() -> Files:
    """The bytes of each file of the good folder."""
    return {file_name(table): text.encode() for table, text in TEXTS.items()}


def put(files: Files, folder: Path) -> Path:
    """Write the files into a folder and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        (folder / name).write_bytes(data)
    return folder


def swap(table: str, old: str, new: str) -> Damage:
    """Replace one text, which must be there exactly once."""

    def damage(files: Files) -> None:
        text = files[file_name(table)].decode()
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {table}"
        files[file_name(table)] = text.replace(old, new).encode()

    return damage


def add(table: str, row: str) -> Damage:
    """Add a row at the end."""

    def damage(files: Files) -> None:
        files[file_name(table)] += f"{row}\n".encode()

    return damage


def raw(name: str, data: bytes) -> Damage:
    """Replace a whole file."""

    def damage(files: Files) -> None:
        files[name] = data

    return damage


def without(name: str) -> Damage:
    """Take a file away."""

    def damage(files: Files) -> None:
        del files[name]

    return damage


def recoded(name: str, encoding: str, *, extra: str = "") -> Damage:
    """Save a file in another encoding, with some text more in it."""

    def damage(files: Files) -> None:
        files[name] = (files[name].decode() + extra).encode(encoding)

    return damage


def all_of(*damages: Damage) -> Damage:
    """Do several damages one after the other."""

    def damage(files: Files) -> None:
        for one in damages:
            one(files)

    return damage
