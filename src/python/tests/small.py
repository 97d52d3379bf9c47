"""A home with two rooms, in memory: small enough to reckon by hand."""

SITE = """[site]
name = "Alder Row"
time_zone = "America/Chicago"
roster = "roster.csv"
clock = "civil"
[band]
lower = "20 °C"
upper = "24 °C"
[acceptance]
days = 1
evenness = "not asked"
"""
ROSTER = """home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
"""


def values(cold_until: int) -> list[tuple[str, float]]:
    """Two days, a reading every five minutes: 19 °C and a little more until an hour of the first day, then 21 °C."""
    rows = []
    for step in range(2 * 288):
        day, minute = divmod(step * 5, 24 * 60)
        degc = (19.0 if day == 0 and minute < cold_until * 60 else 21.0) + step * 7 % 11 / 100
        rows.append((f"2026-01-{5 + day:02} {minute // 60:02}:{minute % 60:02}", degc))
    return rows


def export(cold_until: int) -> str:
    """The same as a logger's export."""
    return "time,temperature (°C)\n" + "".join(f"{time},{degc:.2f}\n" for time, degc in values(cold_until))


EXPORTS = {"living.csv": export(12), "bedroom.csv": export(3)}
