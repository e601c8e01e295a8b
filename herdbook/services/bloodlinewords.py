"""Lines and herd measures in words: what each is called, what it was counted from and means, its source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from herdbook.words import say

if TYPE_CHECKING:
    from herdbook.services.queries.bloodlines import Beast, Line, Measure

SHARES = frozenset({"mean_inbreeding", "mean_kinship"})


@dataclass(frozen=True)
class MeasureWords:
    """A measure as people read it.

    Parameters
    ----------
    label, value, counted : str
        What it is called, its value (or that it is not known), and what it was counted from.
    means : str
        What it says and how it is worked out.
    source : str
    why_not : str
        Why there is no value; empty where there is one.
    """

    label: str
    value: str
    counted: str
    means: str
    source: str
    why_not: str


def years_words(years: int) -> str:
    """Return an age in words; it is the least that the animal can be."""
    if years < 1:
        return say("under a year old")
    return say("1 year old") if years == 1 else say("{n} years old", n=years)


def aged(who: Beast) -> str:
    """Return what an animal is called, with its age if that is known."""
    if who.years is None:
        return who.words
    return say("{animal} ({age})", animal=who.words, age=years_words(who.years))


def living_words(line: Line) -> str:
    """Return how many animals here can carry a female or a bull line on."""
    if line.kind == "male":
        return say("1 bull") if line.living == 1 else say("{n} bulls", n=line.living)
    return say("1 female") if line.living == 1 else say("{n} females", n=line.living)


def hanging_words(line: Line) -> str:
    """Return what a line hangs on, in a sentence; empty where several can carry it on, or nobody can."""
    if line.through is None:
        return ""
    if line.through.animal == line.first.animal:
        return say("{animal} stands alone: no offspring here can be bred from.", animal=aged(line.through))
    if line.kind == "male":
        bull = aged(line.through)
        return say("{bull} is the only bull here of the {line} line.", bull=bull, line=line.first.short)
    return say("The {line} line hangs on {animal} alone.", line=line.first.short, animal=aged(line.through))


def measure_words(name: str, measure: Measure) -> MeasureWords:
    """Return a measure in words."""
    label, means, source = _about(name)
    value, why = _value(name, measure.value), _why_not(measure.reason)
    if measure.counts.get("both_known") == 0:  # nil by arithmetic only
        value, why = say("not known"), say("Of no animal here are both parents known.")
    return MeasureWords(label, value, _counted(name, measure), means, source, why)


def _value(name: str, value: float | None) -> str:
    if value is None:
        return say("not known")
    if name in SHARES:
        return say("{share:.1f} %", share=100 * value)
    return say("{n:.1f} years", n=value) if name == "interval" else f"{value:.1f}"


def _why_not(reason: str | None) -> str:
    return {
        None: "",
        "no_animals": say("No animal is here that counts."),
        "no_parents": say("No sire, or no dam, of the last years' calves is known."),
        "no_interval": say("Too few births of parents and offspring are known."),
        "few_years": say("Fewer than two birth years have both parents known."),
        "not_rising": say("Inbreeding has not risen: no size can be told from that."),
    }[reason]


def _counted(name: str, measure: Measure) -> str:
    counts = measure.counts
    if not counts:
        return ""
    match name:
        case "mean_inbreeding":
            animals = _animals(counts["animals"])
            return say("{animals}; both parents of {both}", animals=animals, both=counts["both_known"])
        case "from_parents":
            return say(
                "sires {sires}, dams {dams}; calves {born}, years {years}",
                sires=counts["sires"],
                dams=counts["dams"],
                born=counts["born"],
                years=counts["years"],
            )
        case "from_rate":
            return say(
                "{animals}, {years} birth years",
                animals=_animals(counts["animals"]),
                years=counts["years"],
            )
        case "from_increase":
            return say(
                "{animals}; {depth:.1f} generations known",
                animals=_animals(counts["animals"]),
                depth=counts["known_generations"],
            )
        case "interval":
            if counts["pairs"] == 1:
                return say("1 pair of parent and offspring")
            return say("{n} pairs of parent and offspring", n=counts["pairs"])
        case "effective_founders":
            return say(
                "{founders}; {share:.1f} % unknown",
                founders=_founders(counts["founders"]),
                share=100 * counts["unknown"],
            )
        case "with_unknown":
            founders, unknown = _founders(counts["founders"]), counts["parents"]
            if unknown == 1:
                return say("{founders}, 1 unknown parent", founders=founders)
            return say("{founders}, {unknown} unknown parents", founders=founders, unknown=unknown)
        case "effective_ancestors":
            number = counts["ancestors"]
            return say("1 ancestor") if number == 1 else say("{n} ancestors", n=number)
    return _animals(counts["animals"])


def _animals(number: float) -> str:
    return say("1 animal") if number == 1 else say("{n} animals", n=number)


def _founders(number: float) -> str:
    return say("1 founder") if number == 1 else say("{n} founders", n=number)


def _about(name: str) -> tuple[str, str, str]:
    """Return what a measure is called, what it means, and its source."""
    match name:
        case "mean_inbreeding":
            return (
                say("Mean inbreeding"),
                say(
                    "The mean over the animals here. An animal of which a parent is not known counts as 0: "
                    "that is not the same as not inbred."
                ),
                say("Wright 1922, American Naturalist 56:330"),
            )
        case "mean_kinship":
            return (
                say("Mean kinship"),
                say(
                    "How inbred calves would be if every animal here were mated with every other, and with "
                    "itself. It foretells inbreeding; it is what the choice of bulls can keep low."
                ),
                say("Cockerham 1967, Genetics 56:89"),
            )
        case "from_parents":
            return (
                say("Effective size, by numbers of parents"),
                say(
                    "4 x sires x dams / (sires + dams), of the calves of one generation's years. So it would "
                    "be with parents not related and used alike; uneven use of the bulls makes it less."
                ),
                say("Wright 1931, Genetics 16:97"),
            )
        case "from_rate":
            return (
                say("Effective size, by the rise of inbreeding"),
                say(
                    "1 / (2 x rise of inbreeding in a generation). The rise is the slope of ln(1 - mean "
                    "inbreeding) over birth years times the generation interval. A pedigree that grows "
                    "deeper looks like rising inbreeding, and makes it less."
                ),
                say("Perez-Enciso 1995, J. Anim. Breed. Genet. 112:327, by years"),
            )
        case "from_increase":
            return (
                say("Effective size, by each animal"),
                say(
                    "1 / (2 x mean of 1 - (1 - F)^(1 / (t - 1))): each animal's inbreeding F, spread over "
                    "the generations t that its pedigree is known for. Few known generations make it large."
                ),
                say("Gutierrez and others 2009, J. Anim. Breed. Genet. 126:327"),
            )
        case "interval":
            return (
                say("Generation interval"),
                say(
                    "How old parents are when those calves are born that are bred from themselves: the mean "
                    "of sires of sons, sires of daughters, dams of sons and dams of daughters."
                ),
                say("Rendel and Robertson 1950, J. Genet. 50:1"),
            )
    return _about_origin(name)


def _about_origin(name: str) -> tuple[str, str, str]:
    match name:
        case "effective_founders":
            return (
                say("Effective founders"),
                say(
                    "So many founders with equal shares would give the same diversity: 1 / sum of squared "
                    "shares. Genes from unknown parents are left out and the founders' shares scaled up to 1."
                ),
                say("Lacy 1989, Zoo Biology 8:111"),
            )
        case "with_unknown":
            return (
                say("Effective founders, unknown parents too"),
                say(
                    "The same with every unknown parent counted as a founder of its own. More than the "
                    "truth where one bull stands behind several of them; the truth lies between the two."
                ),
                say("Lacy 1989, Zoo Biology 8:111; counting each unknown parent is our choice"),
            )
        case "effective_ancestors":
            return (
                say("Effective ancestors"),
                say(
                    "1 / sum of squares of what each ancestor adds to those before it, the greatest first. "
                    "Well below the founders where few animals handed on the genes of many: a bottleneck."
                ),
                say("Boichard and others 1997, Genet. Sel. Evol. 29:5"),
            )
        case "founder_genomes":
            return (
                say("Founder genomes"),
                say(
                    "1 / (2 x mean kinship): so many unrelated founders would have the diversity that is "
                    "left after all losses. Worked out by dropping genes at random it is somewhat higher."
                ),
                say("Lacy 1989, Zoo Biology 8:111; Caballero and Toro 2000, Genet. Res. 75:331"),
            )
    raise KeyError(name)
