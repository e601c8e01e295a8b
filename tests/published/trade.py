"""Published and derived figures of the trade, each with where it comes from.

`derived` means arithmetic from a published rule: safe as a check of the rule, no safer than the rule.
`from memory` means that the source was not read. Dates are calendar-day additions.
"""

from __future__ import annotations

from datetime import date

NEVADA = "University of Nevada Cooperative Extension, Gestation length of the beef cow versus dystocia"
MERCK = "Merck Veterinary Manual, Features of the Reproductive Cycle"
MSU = "Michigan State University Extension, Calculating calf-adjusted weaning weights and herd indexes (BIF)"
REGISTRY = "a US breed registry's worked page on yearling weights"
MANUAL = "a development agency's draught-animal manual"

# Mean gestation by breed, days.
BREED_DAYS = [
    ("Angus", 281, NEVADA),
    ("Shorthorn", 282, NEVADA),
    ("Hereford", 285, NEVADA),
    ("Charolais", 289, NEVADA),
    ("Simmental", 289, NEVADA),
    ("Limousin", 289, NEVADA),
    ("Brahman", 292, NEVADA),
    ("Jersey", 279, NEVADA),
    ("Holstein-Friesian", 279, "cattle press citing the Merck Veterinary Manual"),
    ("Brown Swiss", 292, "J. Dairy Sci. 1965, gestation length and birth weight, a review"),
]

# (service, due) at 283 days: derived; 283 from NEVADA.
SERVICE_TO_DUE = [
    ("2023-01-01", "2023-10-11"),  # no 29 February between
    ("2024-01-01", "2024-10-10"),  # 29 February between
    ("2023-02-28", "2023-12-08"),
    ("2024-02-28", "2024-12-07"),
    ("2024-02-29", "2024-12-08"),  # served on the leap day
    ("2023-03-01", "2023-12-09"),
    ("2024-03-01", "2024-12-09"),
    ("2023-05-22", "2024-02-29"),  # due on the leap day
    ("2023-05-23", "2024-03-01"),
    ("2024-05-22", "2025-03-01"),
    ("2023-06-01", "2024-03-10"),
    ("2024-06-01", "2025-03-11"),
    ("2023-07-04", "2024-04-12"),
    ("2023-08-15", "2024-05-24"),
    ("2024-12-31", "2025-10-10"),
    ("2025-06-15", "2026-03-25"),
    ("2027-05-20", "2028-02-27"),
]

# (days, due) for a service on 2025-06-15: derived.
DUE_BY_DAYS = [
    (279, "2026-03-21"),
    (281, "2026-03-23"),
    (285, "2026-03-27"),
    (289, "2026-03-31"),
    (292, "2026-04-03"),
]

# Printed tables that count otherwise: (service, their due day, the days they therefore use).
OTHER_TABLES = [
    ("2025-05-21", "2026-03-01", 284, "a breed association's gestation table"),
    ("2011-11-09", "2012-08-18", 283, "a smallholder's page; 29 February 2012 between"),
    ("2025-01-10", "2025-10-19", 282, "a smallholder's page"),
]

# (calved, conceive by, then due) for a calving every 365 days: derived; University of Nebraska: 80-85 days.
YEARLY_CALVING = [
    ("2025-03-15", "2025-06-05", "2026-03-15"),
    ("2024-02-01", "2024-04-23", "2025-01-31"),  # 29 February between: a calendar day sooner
]

# (bull in, days counted from day 1, last day, first due, last due): derived.
BULL_RUNS = [
    ("2025-06-01", 45, "2025-07-15", "2026-03-11", "2026-04-24"),
    ("2025-06-01", 60, "2025-07-30", "2026-03-11", "2026-05-09"),
    ("2025-06-01", 63, "2025-08-02", "2026-03-11", "2026-05-12"),
    ("2025-06-01", 90, "2025-08-29", "2026-03-11", "2026-06-08"),
    ("2023-06-01", 63, "2023-08-02", "2024-03-10", "2024-05-11"),
    ("2024-06-01", 90, "2024-08-29", "2025-03-11", "2025-06-08"),
]

# (weaning lb, birth lb, age, sex, dam's years, 205-day lb): derived from the formula and table of MSU.
ADJUSTED_205 = [
    (520, 75, 200, "M", 2, 591.1),
    (520, 75, 200, "M", 6, 531.1),
    (480, 70, 190, "F", 2, 566.4),
    (560, 85, 230, "M", 6, 508.4),
    (500, 80, 215, "M", 4, 500.5),
    (800, 95, 210, "M", 6, 783.2),  # the published page prints 783.8, having rounded the daily gain first
    (520, 80, 230, "M", 3, 512.2),  # 472.2 without the dam; MSU, and a breed society's table
]

# (yearling lb, weaning lb, days between, 205-day lb, 365-day lb, source)
ADJUSTED_365 = [
    (1085, 660, 363 - 209, 731, 1172.6, REGISTRY + " (prints 1173)"),
    (900, 520, 370 - 200, 591.125, 948.8, "derived"),
]

# (mean ratio, calves, producing ability): derived from the BIF formula, itself from memory.
PRODUCING_ABILITY = [(108, 1, 103.20), (108, 3, 105.33), (95, 5, 96.15), (104, 2, 102.29)]

# (girth in, length in, lb, source)
GIRTH = [
    (60, 53, 636.0, MANUAL),
    (70, 65, 1061.7, "derived: a hobby page prints 965, having divided by 330 where it states 300"),
    (74, 60, 1095.2, "derived"),
]

# (hip height in, age, male, female). Equations from memory; male checked against the BIF table below.
FRAME = [
    (49.0, 365, 5.00, 6.01),
    (47.0, 365, 4.00, 5.01),
    (45.0, 205, 5.61, 5.96),
    (50.0, 400, 5.07, 6.20),
]

# (months, hip height in) of frame 5 males: BIF table printed by Montana State University Extension.
FRAME_5_MALES = [(5, 41.6), (7, 44.1), (9, 46.3), (12, 49.0), (15, 51.1), (18, 52.4), (21, 53.2)]

# (born, months, day reached): derived; calendar months, a month's end clamped.
AGE_POINTS = [
    ("2023-08-31", 30, "2026-02-28"),
    ("2023-04-15", 30, "2025-10-15"),
    ("2024-02-29", 30, "2026-08-29"),
    ("2023-08-31", 48, "2027-08-31"),
]


def day(text: str) -> date:
    """Return a civil day written in ISO form."""
    return date.fromisoformat(text)
