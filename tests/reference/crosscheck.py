#!/usr/bin/env python3
"""Holds the calculations against general scientific libraries that know nothing of them.

    python tests/reference/crosscheck.py            the checks; ends with a count, or with what differs
    python tests/reference/crosscheck.py --speed    the same work done here and there, as a ratio

The example program of galenics is built by cargo first; $CROSSCHECK names one that is built already.
Libraries: pint (units), iapws and CoolProp (densities of water and of ethanol-water), chemicals (molar masses),
scikit-learn and statsmodels (agreement of markers), numpy and scipy (control charts).
"""

import json
import os
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# Our unit signs and what pint calls them.
PINT = {
    "ug": "microgram", "mg": "milligram", "g": "gram", "kg": "kilogram", "gr": "grain",
    "dr av.": "dram", "oz": "ounce", "lb": "pound",
    "s ap.": "scruple", "dr ap.": "apothecary_dram", "oz ap.": "apothecary_ounce", "lb ap.": "apothecary_pound",
    "uL": "microliter", "mL": "milliliter", "cL": "centiliter", "dL": "deciliter", "L": "liter",
    "US min": "minim", "US fl dr": "fluid_dram", "US tsp": "teaspoon", "US tbsp": "tablespoon",
    "US fl oz": "fluid_ounce", "US cup": "cup", "US pt": "pint", "US qt": "quart", "US gal": "gallon",
    "imp min": "imperial_minim", "imp fl dr": "imperial_fluid_drachm", "imp fl oz": "imperial_fluid_ounce",
    "imp cup": "imperial_cup", "imp pt": "imperial_pint", "imp qt": "imperial_quart", "imp gal": "imperial_gallon",
}
# Units that pint does not define; their factors stand in galenics-units.csv or are marked as remembered.
NOT_IN_PINT = {"metric tsp", "metric tbsp", "metric cup", "Australian tbsp", "drops"}


class Galenics:
    """The example program, asked one JSON line at a time."""

    def __init__(self):
        program = os.environ.get("CROSSCHECK") or self.built()
        self.process = subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    @staticmethod
    def built():
        """Builds the example and returns its path as cargo reports it. Release, so that --speed means something."""
        build = ["cargo", "build", "--quiet", "--package", "galenics", "--example", "crosscheck", "--message-format", "json"]
        if "--speed" in sys.argv[1:]:
            build.append("--release")
        lines = subprocess.run(build, cwd=ROOT, stdout=subprocess.PIPE, text=True, check=True).stdout.splitlines()
        for message in map(json.loads, lines):
            if message.get("executable") and message["target"]["name"] == "crosscheck":
                return message["executable"]
        sys.exit("cargo built no crosscheck example")

    def ask(self, **question):
        self.process.stdin.write(json.dumps(question) + "\n")
        self.process.stdin.flush()
        answer = json.loads(self.process.stdout.readline())
        if "refused" in answer:
            raise ValueError(f"{question}: {answer['refused']}")
        return answer["value"]


class Checks:
    def __init__(self):
        self.count, self.failures = 0, []

    def near(self, what, ours, theirs, within):
        self.count += 1
        if not abs(ours - theirs) <= within:
            self.failures.append(f"{what}: {ours} here, {theirs} there, {within} allowed")

    def true(self, what, holds):
        self.count += 1
        if not holds:
            self.failures.append(what)


def units(ours, checks):
    """Every pair of units of one dimension. Both sides work in exact fractions, so that only our rounding at
    the 28th digit is left."""
    import pint

    registry = pint.UnitRegistry(non_int_type=Fraction)
    known = ours.ask(op="units")
    signs = {unit["symbol"] for unit in known}
    checks.true(f"pint knows every unit but {sorted(NOT_IN_PINT)}", signs - NOT_IN_PINT == set(PINT))
    dimension = {unit["symbol"]: unit["dimension"] for unit in known}
    for one, pint_one in PINT.items():
        for other, pint_other in PINT.items():
            if dimension[one] != dimension[other]:
                continue
            theirs = (Fraction(7) * registry(pint_one)).to(pint_other).magnitude
            value = Fraction(ours.ask(op="convert", value=f"7 {one}", to=other))
            checks.near(f"7 {one} in {other}", value, Fraction(theirs), Fraction(theirs) / 10**20 + Fraction(1, 10**20))


def water(ours, checks):
    """OIML R 22 without ethanol against two independent codes of IAPWS-95, at one atmosphere.

    The formula was fitted in 1975 to the water table of its time, which lies about 0.006 kg/m3 below the
    modern one; 0.008 leaves room for nothing else. It holds from 0 C on: below, water would be ice."""
    from CoolProp.CoolProp import PropsSI
    from iapws import IAPWS95

    for celsius in range(1, 41):
        rho = ours.ask(op="density", by_mass=0.0, celsius=celsius)
        kelvin = celsius + 273.15
        checks.near(f"water at {celsius} C, iapws", rho, IAPWS95(T=kelvin, P=0.101325).rho, 0.008)
        checks.near(f"water at {celsius} C, CoolProp", rho, PropsSI("D", "T", kelvin, "P", 101325, "Water"), 0.008)


def ethanol(ours, checks):
    """OIML R 22 against CoolProp's ethanol-water coolant tables, which end at 60 per cent by mass.

    Those are fits to another source with a stated use in brines, good to some tenths of a kg/m3: at 20 C the
    two differ by up to 0.31. Away from 20 C the fit is coarser; 1.5 kg/m3 (0.15 per cent) is argued from the
    scatter of the sources behind it, and still tells a wrong coefficient, which moves tens. Pure ethanol comes
    from a reference equation of state, 0.02 per cent apart at 20 C."""
    from CoolProp.CoolProp import PropsSI

    for share in range(5, 61, 5):
        for celsius in (0, 5, 10, 15, 20, 25, 30, 35, 40):
            rho = ours.ask(op="density", by_mass=share / 100, celsius=celsius)
            theirs = PropsSI("D", "T", celsius + 273.15, "P", 101325, f"INCOMP::MEA[{share / 100}]")
            within = 0.4 if celsius == 20 and share % 10 == 0 else 1.5
            checks.near(f"{share} % w/w at {celsius} C, CoolProp", rho, theirs, within)
    for celsius in (0, 10, 20, 30, 40):
        rho = ours.ask(op="density", by_mass=1.0, celsius=celsius)
        theirs = PropsSI("D", "T", celsius + 273.15, "P", 101325, "Ethanol")
        checks.near(f"ethanol at {celsius} C, CoolProp", rho, theirs, 0.6)


def strengths(ours, checks):
    """ABV to ABW solved here by scipy on our densities: the inversion, not the densities."""
    from scipy.optimize import brentq

    for celsius in (0.0, 15.56, 20.0, 35.0):
        pure = ours.ask(op="density", by_mass=1.0, celsius=celsius)
        for percent in (1, 5, 12.5, 40, 62, 80, 96.2, 99.5):
            q = percent / 100
            p = brentq(lambda p: p * ours.ask(op="density", by_mass=p, celsius=celsius) / pure - q, 0, 1, xtol=1e-13)
            checks.near(f"{percent} % vol at {celsius} C", ours.ask(op="by_mass", by_volume=q, celsius=celsius), p, 1e-11)


def mixtures(ours, checks):
    """Spirits and water as lines of a formula, which contract, against the density that CoolProp gives the mixture.

    The masses that go in are ours, checked above; what is checked here is the volume. CoolProp's tables end at 60 per
    cent by mass and differ from OIML R 22 by up to 1.5 kg/m3, 0.16 per cent; taken as additive, these volumes would be
    wrong by 1.5 to 3.5 per cent."""
    from CoolProp.CoolProp import PropsSI

    for lines in ([[96, 500], [0, 500]], [[96, 300], [0, 700]], [[70, 400], [40, 100], [0, 300]], [[96, 100], [0, 200], [0, 100]]):
        mass = ethanol = 0.0
        for percent, ml in lines:
            p = ours.ask(op="by_mass", by_volume=percent / 100, celsius=20.0)
            grams = ml * ours.ask(op="density", by_mass=p, celsius=20.0) / 1000
            mass, ethanol = mass + grams, ethanol + grams * p
        made, volume = ours.ask(op="formula", lines=lines)
        checks.near(f"mass of {lines}", made, mass, 0.01)
        theirs = mass * 1000 / PropsSI("D", "T", 293.15, "P", 101325, f"INCOMP::MEA[{ethanol / mass}]")
        checks.near(f"volume of {lines}, CoolProp", volume, theirs, 0.0017 * theirs)
        checks.true(f"{lines} contract", volume < 0.99 * sum(ml for _, ml in lines))


def molar_masses(ours, checks):
    """Molar masses behind the soap and the as-acid conversions."""
    from chemicals import CAS_from_any, MW

    names = {
        "borax": "1303-96-4", "sodium hydroxide": "sodium hydroxide", "potassium hydroxide": "potassium hydroxide",
        "sodium bicarbonate": "sodium bicarbonate", "triethanolamine": "triethanolamine",
    }
    for alkali in ours.ask(op="alkalis"):
        given = names[alkali["name"]]
        mass = MW(given if given[0].isdigit() else CAS_from_any(given))
        checks.near(f"molar mass of {alkali['name']}", float(alkali["molar_mass"]), mass, 0.02)
    for acid, salt in (("benzoic acid", "sodium benzoate"), ("sorbic acid", "24634-61-5")):
        acid_mass = MW(CAS_from_any(acid))
        salt_mass = MW(salt if salt[0].isdigit() else CAS_from_any(salt))
        factor = float(ours.ask(op="as_acid", acid=f"{acid_mass:.4f}", salt=f"{salt_mass:.4f}"))
        checks.near(f"{acid} from {salt}", factor, acid_mass / salt_mass, 1e-6)


def agreement(ours, checks):
    """Weighted kappa against scikit-learn, and the ends of its interval against statsmodels, which works the standard error
    of Fleiss, Cohen and Everitt out in its own way. Both in binary floating point: 1e-9 is left for that."""
    import numpy
    from scipy.stats import norm
    from sklearn.metrics import cohen_kappa_score
    from statsmodels.stats.inter_rater import cohens_kappa

    rng = numpy.random.default_rng(20261130)
    for levels in (2, 3, 4, 5, 7, 10):
        for pairs in (30, 31, 60, 250):
            for noise in (0.0, 0.2, 0.6, 1.0):
                first = rng.integers(0, levels, pairs)
                near = numpy.clip(first + rng.integers(-1, 2, pairs), 0, levels - 1)
                second = numpy.where(rng.random(pairs) < noise, near, first)
                value, low, high = (float(one) for one in ours.ask(
                    op="kappa", levels=levels, pairs=[[int(one), int(other)] for one, other in zip(first, second)]))
                labels = list(range(levels))
                what = f"kappa of {pairs} pairs of {levels} levels, noise {noise}"
                theirs = cohen_kappa_score(first, second, labels=labels, weights="linear")
                checks.near(f"{what}, scikit-learn", value, theirs, 1e-9)
                table = numpy.zeros((levels, levels))
                numpy.add.at(table, (first, second), 1)
                # Its variance of marks that are all alike may come out a little below 0.
                with numpy.errstate(invalid="ignore"):
                    found = cohens_kappa(table, wt="linear", return_results=True)
                reach = norm.ppf(0.975) * numpy.sqrt(max(found.var_kappa, 0.0))
                checks.near(f"{what}, statsmodels: low", low, max(found.kappa - reach, -1), 1e-6)
                checks.near(f"{what}, statsmodels: high", high, min(found.kappa + reach, 1), 1e-6)



def control(ours, checks):
    """Control charts of individual values against numpy. The constants for samples of two are worked out by scipy from the
    normal distribution: the mean range is that of two values, the limit of the range lies three of its standard deviations
    above it."""
    import numpy
    from scipy.integrate import quad
    from scipy.stats import norm

    def moment(power):
        # The difference of two values is normal with twice the variance.
        return 2 * quad(lambda r: r**power * norm.pdf(r, scale=numpy.sqrt(2)), 0, numpy.inf)[0]

    d2 = moment(1)
    d4 = 1 + 3 * numpy.sqrt(moment(2) - d2**2) / d2
    checks.near("d2 of two values", 1.128, d2, 0.0005)
    checks.near("D4 of two values", 3.267, d4, 0.0005)
    draw = numpy.random.default_rng(2026)
    for points in (20, 21, 60, 200):
        for spread in (0.002, 0.01, 0.3):
            values = numpy.round(draw.normal(0.005, spread, points), 4)
            mean, lower, upper, mean_range, range_upper = map(
                float, ours.ask(op="control", values=[f"{value:.4f}" for value in values]))
            ranges = numpy.abs(numpy.diff(values))
            reach = 3 * ranges.mean() / 1.128
            what = f"control chart of {points} points, spread {spread}"
            checks.near(f"{what}: mean", mean, values.mean(), 1e-12)
            checks.near(f"{what}: lower", lower, values.mean() - reach, 1e-12)
            checks.near(f"{what}: upper", upper, values.mean() + reach, 1e-12)
            checks.near(f"{what}: mean range", mean_range, ranges.mean(), 1e-12)
            checks.near(f"{what}: limit of the ranges", range_upper, 3.267 * ranges.mean(), 1e-12)


def seconds(work, times):
    start = time.perf_counter()
    for _ in range(times):
        work()
    return (time.perf_counter() - start) / times


def speed(ours):
    """The same two pieces of work with the libraries and with ours, in one run."""
    import pint
    from scipy.optimize import brentq

    registry = pint.UnitRegistry()
    theirs = seconds(lambda: registry("2.5 cups").to("milliliter").magnitude, 2000)
    mine = ours.ask(op="time", what="convert", times=200_000) / 200_000
    print(f"reading and converting 2.5 cups: {mine * 1e9:.0f} ns here, {theirs * 1e6:.1f} us with pint: {theirs / mine:.0f} times")

    import numpy

    grid = numpy.linspace(0, 1, 101)
    densities = numpy.array([ours.ask(op="density", by_mass=p, celsius=15.0) for p in grid])
    spline = numpy.polynomial.Polynomial.fit(grid, densities, 11)
    pure = densities[-1]
    theirs = seconds(lambda: brentq(lambda p: p * spline(p) / pure - 0.4, 0, 1, xtol=1e-12), 2000)
    mine = ours.ask(op="time", what="by_mass", times=200_000) / 200_000
    print(f"strength by mass of 40 % vol: {mine * 1e9:.0f} ns here, {theirs * 1e6:.1f} us with numpy and scipy: {theirs / mine:.0f} times")


def main():
    ours = Galenics()
    if "--speed" in sys.argv[1:]:
        return speed(ours)
    checks = Checks()
    for check in (units, water, ethanol, strengths, mixtures, molar_masses, agreement, control):
        before = checks.count
        check(ours, checks)
        print(f"{check.__name__.replace('_', ' ')}: {checks.count - before} checks")
    if checks.failures:
        print("\n".join(checks.failures))
        sys.exit(f"{len(checks.failures)} of {checks.count} differ")
    print(f"all {checks.count} agree")


if __name__ == "__main__":
    main()
