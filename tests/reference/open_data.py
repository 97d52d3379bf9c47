"""Writes a site for the open nine-zone house: open_data.py ENERGYDATA.csv FOLDER.

Source of the data: L. Candanedo, V. Feldheim, D. Deramaix, "Data driven prediction models of energy use of appliances
in a low-energy house", Energy and Buildings 140 (2017); UCI Machine Learning Repository, CC BY 4.0.
"""

import sys
from pathlib import Path

SITE = """[site]
name = "Nine-zone house"
time_zone = "Europe/Brussels"
roster = "roster.csv"
exports = "{exports}"
outdoor = {{ file = "{file}", column = "T_out", clock = "fixed +01:00", unit = "°C" }}
clock = "fixed +01:00"
step = "10 min"

[band]
lower = "20 °C"
upper = "24 °C"

[quality]
tests = []
"""
ROOMS = [
    ("T1", "kitchen", "kitchen", "yes"), ("T2", "living", "living", "yes"), ("T3", "laundry", "other", "no"),
    ("T4", "office", "other", "yes"), ("T5", "bathroom", "bathroom", "no"), ("T7", "ironing", "other", "yes"),
    ("T8", "teenager", "bedroom", "yes"), ("T9", "parents", "bedroom", "yes"),
]  # fmt: skip


def roster(file):
    rows = [f"H1,{room},{use},{heated},zone {column},{file},{column},°C" for column, room, use, heated in ROOMS]
    return "\n".join(["home,room,use,heated,logger,file,column,unit", *rows, ""])


def main():
    data, folder = Path(sys.argv[1]).resolve(), Path(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "site.toml").write_text(SITE.format(exports=data.parent, file=data.name), encoding="utf-8")
    (folder / "roster.csv").write_text(roster(data.name), encoding="utf-8")


if __name__ == "__main__":
    main()
