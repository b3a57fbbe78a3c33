"""A small garden folder without faults, before and after trays are dealt, for tests to spoil."""

FILES = {
    "garden.toml": """\
[garden]
name = "Small Garden"
season = 2027
units = "metric"
sowing_day = "saturday"
hand_out_day = "sunday"
wishes_close = "02-15"
tray_cm = [54.5, 28.0]

[site]
latitude = 50.0
longitude = 7.5
elevation_m = 120

[frost]
source = "table"
law = "normal"
threshold_c = 0.0
risk = 0.10
autumn_risk = 0.50
spring = { p90 = "04-10", p50 = "04-25", p10 = "05-10" }
autumn = { p10 = "10-01", p50 = "10-15", p90 = "10-30" }

[plan]
confidence = 0.90
survival = 0.90
spare = 0.10
""",
    "growers.csv": """\
grower,plot,contact,days
Ana,1,ana@example.org,saturday sunday
Ben,2,,
""",
    "containers.csv": """\
container,cells_per_tray,cell_volume_ml,rows,columns
Plug,72,40,6,12
Pot,18,350.5,,
""",
    "crops.csv": """\
crop,hardiness,plant_out_weeks,indoor_weeks_min,indoor_weeks_max,start_container,days_to_maturity,counted_from,\
days_to_emerge,germ_temp_c,heat,light,seeds_per_cell,botanical,direct_sow_weeks,pot_on_container,pot_on_after_days,\
transplanting,emergence_row,germination_kind,source
Tomato,tender,1,6,8,Plug,70,transplant,7,24,yes,lamp,2,Solanum lycopersicum,,Pot,21,easy,tomato,Tomato,from memory
Squash,tender,1.5,3,4,Pot,90,seed,6,24,yes,window,2,,,,,resents,,,
Carrot,hardy,,,,,70,seed,,,,,,,-3,,,,carrot,Carrot,
""",
    "shelves.csv": """\
shelf,place,width_cm,depth_cm,levels,positions,bench_temp_c,hours_per_day
Rack,lamp,122,61,3,,,16
Bench,heat,122,61,1,5,24,
Sill,window,200,30,1,,,
Frame,hardening,300,120,1,,,
""",
    "seed_lots.csv": """\
seed_lot,crop,variety,germination,origin,year
L1,Tomato,Red,0.9,bought,2026
L2,Carrot,,,saved,2025
""",
    "sowings.csv": """\
sowing,grower,crop,plants,variety,days_to_maturity,seed_lot,priority,plant_out,risk,sow_on,light,placed
S1,Ana,Tomato,6,Red,72,L1,1,2027-05-20,0.2,2027-04-01,,5
S2,Ben,Squash,4,,,,,,,,window,
S3,Ben,Carrot,50,,,L2,,,,,,
""",
}

# The same after trays were dealt; one tray comes to a position on the day on which another leaves it.
DEALT = {
    **FILES,
    "trays.csv": """\
tray,container,sow_on,potted_on,pinned
101,Plug,2027-04-01,no,yes
102,Pot,2027-04-24,,
103,Pot,2027-04-29,yes,no
""",
    "cells.csv": """\
tray,row,column,sowing,state
101,A,1,S1,sown
101,A,2,S1,up
101,F,12,S1,
102,A,1,S2,empty
103,C,6,S1,potted on
""",
    "stays.csv": """\
tray,place,shelf,level,slot,from,to,pinned
101,heat,Bench,1,1,2027-04-01,2027-04-08,
101,lamp,Rack,1,2,2027-04-08,2027-04-29,yes
102,heat,Bench,1,1,2027-04-24,2027-04-30,no
102,window,,,,2027-04-30,2027-05-14,
103,lamp,Rack,1,2,2027-04-29,2027-05-10,
103,hardening,Frame,1,1,2027-05-10,2027-05-20,
""",
}

# The same with a season's log so far, and with all else that members write down. Row 5 corrects row 4.
LOGGED = {
    **DEALT,
    "log.csv": """\
entry,sowing,kind,date,count,seeds,tray,seed_lot,cause,note,supersedes,cells,grower
E-1,S1,sown,2027-04-01,3,6,101,L1,,,,,Ana
E-2,S1,up,2027-04-09,2,,101,,,,,A1 A2,Ana
E-3,S1,up,2027-04-10,30,,101,,,,,,
E-4,S1,up,2027-04-10,3,,101,,,"a slip, put right",E-3,,
E-5,S1,lost,2027-04-12,1,,101,,damping off,,,F12,Ben
""",
    "ticks.csv": """\
sowing,task,date
S1,look,2027-04-08
S1,look,2027-04-09
""",
    "seed_tests.csv": """\
seed_lot,date,tried,up,days,seeds_per_cell
L1,2027-02-01,20,17,7,
L2,2026-03-01,40,30,,2.5
""",
    "rounds.csv": """\
date,grower,offered,swapped,done_on,done_by,note
2027-04-12,Ana,,yes,2027-04-13,Ben,
2027-04-14,Ben,yes,,,,after work
2027-04-16,,,,,,
""",
    "drafts.csv": """\
grower,crop,plants,variety,days_to_maturity,seed_lot,priority,brings_seed,got
Ana,Tomato,6,Red,72,L1,1,yes,5
Ben,Carrot,20,,,,,,
""",
    "spare_offers.csv": """\
offer,sowing,plants,date,note
4,S1,2,2027-05-10,
9,S1,1,2027-05-11,small
""",
    "spare_requests.csv": """\
request,grower,crop,plants,date,note
7,Ben,Tomato,2,2027-05-10,
""",
    "spare_gifts.csv": """\
offer,grower,plants,date,request
9,Ben,1,2027-05-12,7
4,,1,2027-05-12,
""",
}


def write_files(folder, files):
    """Write files, texts in UTF-8, into a folder; None leaves a file out."""
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        if content is not None:
            (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder


def spoil(name, old, new, files=FILES):
    """Return the files with one piece of one file changed."""
    assert files[name].count(old) == 1, f"{old!r} stands {files[name].count(old)} times in {name}"
    return {**files, name: files[name].replace(old, new)}
