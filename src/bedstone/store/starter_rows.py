"""Example rows of the starter folder: a tiny mill that loads as it stands. All invented.

``{day}`` stands for the day of the example order, ``{eve}`` for the day on which it came in.
"""

from typing import Any

__all__ = ["STARTER_ROWS", "STARTER_SETTINGS"]

STARTER_SETTINGS: dict[str, Any] = {
    "format": 1,
    "name": "Our Mill",
    "place": "1 Mill Lane, Ferris County",
    "time_zone": "America/Chicago",
    "units": "SI",
    "flush_material": "BARLEY",
    "flush_bin": "FL1",
    "labour_usd_h": 40.0,
}

STARTER_ROWS: dict[str, str] = {
    "people": """\
person,name,role
ana,Ana Example,manager
ben,Ben Example,batch operator
""",
    "firms": """\
firm,name,role,address,phone
grange,Grange Grain,supplier,"2 Elevator Road, Ferris County",555-0101
hillside,Hillside Farm,customer,"3 Hill Road, Ferris County",555-0102
""",
    "bins": """\
bin,name,kind,capacity_kg,volume_m3,flow,holds,feeds,hold_up_kg
B01,barley bin,ground,20000,35,mass flow,BARLEY,SC1,0
B02,soybean meal bin,ingredient,15000,25,funnel flow,SOYMEAL,SC1,0
FS1,sack floor,floor,4000,,kept apart,,HS1,0
FB1,bin over the sacking line,finished,6000,10,mass flow,,,2
FL1,flush bin,flush,2000,4,mass flow,,,0
WH1,warehouse,warehouse,50000,,kept apart,,,0
""",
    "bin_shapes": """\
bin,section,width_m,length_m,wall_m,hopper,hopper_m,outlet_width_m,outlet_length_m,spout_off_m,repose_deg
""",
    "strapping": """\
bin,depth_m,volume_m3
""",
    "tanks": """\
bin,lies,diameter_m,length_m,ends
""",
    "machines": """\
machine,name,kind,rate_t_h,mass_max_kg,mass_min_kg,volume_max_m3,fill_s,dry_mix_s,wet_mix_s,discharge_s,loss_pct,hold_up_kg,exchange_pct,changeover_s,die_change_s,clean_out_s
MX1,one-ton mixer,mixer,,1000,300,2,240,180,0,60,0,4,100,0,0,1200
HA1,hand-add station,hand-add station,,,,,0,0,0,0,0,0,100,0,0,0
SK1,sacking line,sacking line,8,,,,0,0,0,0,0,3,50,300,0,900
""",
    "scales": """\
scale,name,machine,capacity_kg,division_kg,smallest_draw_kg,sd_kg
SC1,batch scale,MX1,1000,0.5,10,
HS1,hand-add scale,HA1,30,0.01,0.2,
""",
    "meters": """\
meter,name,machine,division_kg,smallest_draw_kg,rate_t_h,sd_pct
""",
    "proof_intervals": """\
instrument,days,volume_m3
SC1,180,
""",
    "routes": """\
start,end,hold_up_kg,exchange_pct,clean_out_s
HA1,MX1,0,100,0
MX1,FB1,5,30,1800
FB1,SK1,1,100,600
MX1,FL1,0,100,0
""",
    "shifts": """\
machine,weekday,start_time,end_time
,Mon,06:00,14:30
,Tue,06:00,14:30
,Wed,06:00,14:30
,Thu,06:00,14:30
,Fri,06:00,14:30
""",
    "ingredients": """\
ingredient,name,ingredient_class,density_kg_m3,moisture_pct_wb,price_usd_t,ground_from,hand_add,caution
BARLEY,"Barley, ground",ground grain,610,11.5,210,,no,
SOYMEAL,Soybean meal 48,protein meal,640,11,395,,no,
SHEEPMIN,Sheep mineral premix,micro,1100,4,900,,yes,No added copper. Keep apart from other premixes.
""",
    "liquids": """\
ingredient,density_kg_m3,density_at_c,swells_pct,thick_cp,thick_at_c,thin_cp,thin_at_c,thickest_cp,hottest_c
""",
    "substances": """\
substance,name,unit_shown,caution,source
copper,Copper,mg/kg,Sheep store copper and can die of what other animals need.,common practice
""",
    "contents": """\
ingredient,substance,content_mg_kg,source
BARLEY,copper,6,example only: put your own assay here
SOYMEAL,copper,15,example only: put your own assay here
""",
    "composition": """\
ingredient,nutrient,mean,unit,sd,assays,source
BARLEY,crude protein,11.2,%,0.8,12,example only: put your own assays here
SOYMEAL,crude protein,47.6,%,0.9,20,example only: put your own assays here
SHEEPMIN,crude protein,0,%,0,0,example only: minerals hold none
SHEEPMIN,vitamin E,4000,IU/kg,200,2,example only: the maker's label
""",
    "prices": """\
ingredient,from_on,until_on,supplier,contract,price_usd_t,mass_min_kg,mass_max_kg
BARLEY,2026-01-01,,,,210,,
SOYMEAL,2026-01-01,,grange,K-1,388,,20000
""",
    "buying_terms": """\
ingredient,lead_days,truck_kg,safety_days,cover_days
BARLEY,3,25000,2,14
""",
    "keep_apart": """\
ingredient,nutrient,boundary,unit,rule,why
""",
    "products": """\
product,name,species,life_stage,form,route,die,pack_kg,medicated,density_kg_m3,price_usd_t,dry_mix_s,wet_mix_s,caution
SHEEP-16,Sheep Grower 16,sheep,grower,mash,MX1 > FB1 > SK1,,25,no,600,420,,,Do not feed to other species without advice.
""",
    "rates": """\
product,machine,start_hour,end_hour,rate_t_h
SHEEP-16,SK1,0,24,7.5
""",
    "pellet_lines": """\
line,volume_m3,fill_pct,steam_gauge_pa,steam_quality_pct,loss_pct,mash_c,liquid_c,boiler_pct,fuel_usd_kwh,motor_v,motor_full_a,power_factor_pct,power_usd_kwh
""",
    "coolers": """\
line,area_m2,depth_m,air_m3_s,fan_curve,duct_pa,duct_at_m3_s
""",
    "dies": """\
die,line,hole_mm,effective_mm,holes,inner_diameter_mm,face_width_mm,knives,turns_per_min,thickness_mm,expected_kg,made_kg,price_usd
""",
    "pellets": """\
product,diameter_mm,length_mm,conditioning_c,die_rise_dk,above_ambient_dk,water_activity_pct,conditioner_liquid,die_moisture_max_pct_wb,bulk_density_kg_m3,durability_pct
""",
    "heat_sensitive": """\
ingredient,what,measured,d_s,at_c,z_dk,z_sd_dk,d_spread,nutrient,least_left_pct,source
SHEEPMIN,vitamins in it,from memory,1800,85,25,,3,vitamin E,70,example only: ask the maker
""",
    "guarantees": """\
product,nutrient,minimum,maximum,unit
SHEEP-16,crude protein,16,,%
""",
    "requirements": """\
product,nutrients,per,basis,minimum,maximum,unit,per_unit,odds_pct,firm,source
SHEEP-16,crude protein,,dry matter,18,,%,,,no,mill policy
""",
    "inclusions": """\
product,ingredient,min_pct,max_pct,at_least_pct,firm,source
SHEEP-16,BARLEY,40,90,,no,mill policy
SHEEP-16,SOYMEAL,0,30,,no,mill policy
SHEEP-16,SHEEPMIN,2,2,,yes,example only: the maker's label
""",
    "ingredient_groups": """\
product,species,group,members,min_pct,max_pct,nutrient,level_max,unit,basis,firm,source
,sheep,GRAIN,BARLEY,,90,,,,as fed,no,mill policy
""",
    "formula_rules": """\
product,odds_pct,ingredients_max,change_each_pct,change_total_pct,moisture_max_pct_wb,density_min_kg_m3,density_max_kg_m3,source
SHEEP-16,95,,,,13,,,mill policy
""",
    "formulas": """\
product,version,status,approved_by,approved_on
SHEEP-16,1,running,ana,2026-01-15
""",
    "formula_lines": """\
product,version,ingredient,parts_pct
SHEEP-16,1,BARLEY,83
SHEEP-16,1,SOYMEAL,15
SHEEP-16,1,SHEEPMIN,2
""",
    "limits": """\
product,species,substance,kind,level_mg_kg,flush_kg,source
,sheep,copper,level,15,,mill policy
""",
    "weighbridges": """\
weighbridge,name,capacity_kg,division_kg,scale_class
WB1,truck scale,60000,20,III L
""",
    "cargo_rules": """\
cargo,ingredient,loads_back,verdict,why,source
building material,,1,wash,grit wears the machines and hurts animals,mill policy
""",
    "specifications": """\
ingredient,test,unit,minimum,maximum,reject_below,reject_above,at_gate,waits,method,repeatability_sd,risk_max_pct,source
BARLEY,moisture,%,,14,,16,yes,no,moisture meter,0.3,50,mill policy
""",
    "receiving_terms": """\
ingredient,supplier,shrink,moisture_base_pct_wb,pencil_pct,handling_pct,dockage_free_pct,sample_shelf,sample_days,source
BARLEY,,dry matter,14,,0.5,1,shelf 1,180,mill policy
""",
    "price_steps": """\
ingredient,test,unit,from_value,to_value,adjust_usd_t,source
BARLEY,moisture,%,14,16,-2,mill policy
""",
    "orders": """\
order,customer,product,mass_kg,pack,entered_at,due_at,status,note
1001,hillside,SHEEP-16,2000,bags,{eve} 09:10,{day} 12:00,open,
""",
    "opening_stock": """\
place,material,lot,mass_kg,received_at,supplier
B01,BARLEY,L-0110-BARLEY,12000,2026-01-10 08:30,grange
B02,SOYMEAL,L-0112-SOYMEAL,9000,2026-01-12 10:00,grange
FS1,SHEEPMIN,L-0105-SHEEPMIN,500,2026-01-05 13:15,grange
""",
    "weather": """\
hour_at,temperature_c,humidity_pct,pressure_pa
{day} 06:00,-4,81,101325
""",
    "assays": """\
assay,nutrient,of,lot,place,value,unit,sd,method,laboratory,sampled_at,retained_sample
A-1,crude protein,BARLEY,L-0110-BARLEY,,11.4,%,0.2,Kjeldahl,example laboratory,2026-01-10 08:45,shelf 1
""",
}
