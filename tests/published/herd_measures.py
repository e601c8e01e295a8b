"""Published and worked values of herd measures: founders, ancestors, effective size, generation interval.

`read` means that the source's text or data was read; `worked` that the value was computed from the definition
by independent routes, since no printed value was at hand; `memory` that the source is quoted from memory.
"""

from __future__ import annotations

KVL = "Christensen K., Population Genetics, web book of the Royal Veterinary and Agricultural University, 3.6"
GSE = "additional file of a paper in Genet. Sel. Evol., 16 animals: contributions of founders 01-04, read"
GUTIERREZ = "Gutierrez, Cervantes & Goyache 2009, J. Anim. Breed. Genet. 126:327-332 (rule), values worked"
KOCH = "Koch, Gregory & Cundiff 1974, J. Anim. Sci. 39:449, abstract read: 2,956 beef calves"
RENDEL = "Rendel & Robertson 1950, J. Genet. 50:1-8 (rule, memory), values worked"

# Contributions of founders 01, 02, 03, 04 to each animal of the 16; source GSE. (animal, 01, 02, 03, 04)
CONTRIBUTIONS_16 = [
    ("01", 1.0, 0.0, 0.0, 0.0),
    ("02", 0.0, 1.0, 0.0, 0.0),
    ("03", 0.0, 0.0, 1.0, 0.0),
    ("04", 0.0, 0.0, 0.0, 1.0),
    ("05", 0.5, 0.0, 0.5, 0.0),
    ("06", 0.5, 0.0, 0.0, 0.5),
    ("07", 0.5, 0.0, 0.5, 0.0),
    ("08", 0.0, 0.5, 0.0, 0.5),
    ("09", 0.5, 0.0, 0.5, 0.0),
    ("10", 0.5, 0.0, 0.25, 0.25),
    ("11", 0.25, 0.25, 0.0, 0.5),
    ("12", 0.25, 0.25, 0.0, 0.5),
    ("13", 0.375, 0.125, 0.25, 0.25),
    ("14", 0.375, 0.125, 0.25, 0.25),
    ("15", 0.375, 0.125, 0.25, 0.25),
    ("16", 0.375, 0.125, 0.125, 0.375),
]

# Of the group 13-16 of the same pedigree; worked: 1 / sum p^2 = 1 / (.375^2 + .125^2 + .21875^2 + .28125^2).
FOUNDERS_16 = 3.5310344827586206
# Worked; of 10 and 16, equals at the last step, either may be taken.
ANCESTORS_16 = 2.4615384615384617
ANCESTOR_SHARES_16 = [("11", 0.5), ("09", 0.375), ("10", 0.125)]
GENOMES_16 = 1.391304347826087  # worked: 1 / (2 mean kinship)

# (males, females, Ne, where from)
SIZE_FROM_PARENTS = [
    (10, 10, 20.0, KVL + ", read"),
    (1, 10, 40 / 11, KVL + " prints 3.7, rounded up from 3.64; worked"),
    (100, 100_000, 400_000 / 1001, KVL + " prints 400; worked"),
    (20, 80, 64.0, "a common textbook exercise, memory"),
    (1, 25, 50 / 13, "worked"),
    (2, 50, 100 / 13, "worked"),
    (4, 100, 200 / 13, "worked"),
    (1, 1, 2.0, "worked"),
    (1, 1_000_000_000, 4_000_000_000 / 1_000_000_001, "the limit of 4 for one male, lecture notes, read"),
    (5, 50, 200 / 11, "worked"),
]

# (F before, F after, rate, Ne, where from)
SIZE_FROM_RATE = [
    (0.0, 0.025, 0.025, 20.0, KVL + ", read: Ne 20 gives 2.5 % a generation"),
    (0.05, 0.0595, 0.01, 50.0, "worked"),
    (0.1, 0.109, 0.01, 50.0, "worked"),
]

# (F, equivalent complete generations, increase, Ne); source GUTIERREZ
INDIVIDUAL_INCREASE = [
    (0.125, 3.0, 0.06458565330651467, 7.74165738677394),
    (0.0625, 4.5, 0.018270608624575746, 27.366357097018177),
    (0.25, 2.0, 0.25, 2.0),
]

# (Ne, generations, F): worked from F = 1 - (1 - 1 / (2 Ne))^t, Falconer & Mackay 1996, chapter 4 (memory)
F_AFTER = [
    (10, 1, 0.05),
    (10, 50, 0.9230550247232868),
    (20, 10, 0.22367037914356236),
    (50, 1, 0.01),
    (50, 50, 0.39499393286246365),
    (100, 50, 0.22168744293135811),
]

# (sire-son, sire-daughter, dam-son, dam-daughter, interval, where from)
INTERVALS = [
    (4.1, 4.1, 5.1, 5.1, 4.6, KOCH + "; sires 4.1, dams 5.1 years"),
    (3.0, 3.0, 5.0, 4.0, 3.75, RENDEL),
]
# Ages of sires and of dams at the births of four calves that were kept, and the three means; source RENDEL.
KEPT_AGES = ((2, 2, 3, 7), (2, 3, 3, 8), 3.5, 4.0, 3.75)
