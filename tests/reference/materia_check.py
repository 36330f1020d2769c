"""Checks the materia against two outside references, offline.

Every species' botanical family is compared with NCBI taxonomy (taxoniq), and every substance's name, CAS number and
molar mass with the open data of the library chemicals. Exits with 1 and one line for each difference.

May use: the standard library, taxoniq, chemicals. Never happens here: writing a file, reaching the network.
"""

import csv
import pathlib
import re
import sys
import warnings

import taxoniq
from chemicals import search_chemical

DATA = pathlib.Path(__file__).resolve().parents[2] / "services" / "materia" / "data"
# Names of the trade that this release of NCBI taxonomy lists under a newer one.
LISTED_AS = {
    "Drimia maritima": "Squilla maritima",
    "Foeniculum vulgare": "Anethum foeniculum",
    "Hyssopus officinalis": "Dracocephalum officinale",
}
MOLAR_MASS_TOLERANCE = 0.005  # g/mol; the files keep three decimals


def rows(name):
    with open(DATA / name, newline="", encoding="utf-8") as file:
        yield from csv.DictReader(file)


def family_of(name):
    """The family under which NCBI lists a species; None where it does not list it."""
    try:
        taxon = taxoniq.Taxon(scientific_name=LISTED_AS.get(name, name))
    except KeyError:
        return None
    return next((one.scientific_name for one in taxon.ranked_lineage if one.rank.name == "family"), None)


def check_families(faults):
    checked = 0
    for row in rows("species.csv"):
        family = family_of(row["name"])
        if family is None:
            faults.append(f"species.csv: {row['name']} is not in NCBI taxonomy")
        elif family != row["family"]:
            faults.append(f"species.csv: {row['name']} stands under {row['family']}, NCBI says {family}")
        checked += 1
    return checked


def names_of(chemical):
    """Every name that the library knows, in small letters; some entries hold several, split by semicolons."""
    held = [chemical.common_name, chemical.iupac_name, *(chemical.synonyms or [])]
    return {name.strip().lower() for entry in held if entry for name in entry.split(";")}


def is_named(chemical, name):
    """Whether the name is one of the chemical's, whole or as a word of it ("menthol racemic" for menthol)."""
    whole_word = re.compile(rf"(?<![\w]){re.escape(name.lower())}(?![\w])")
    known = names_of(chemical)
    return name.lower() in known or any(whole_word.search(entry) for entry in known)


def check_substances(faults):
    checked = 0
    for row in rows("substances.csv"):
        if not row["cas"]:
            continue
        try:
            chemical = search_chemical(row["cas"])
        except ValueError:
            faults.append(f"substances.csv: the library has no CAS number {row['cas']} ({row['name']})")
            continue
        if not is_named(chemical, row["name"]):
            faults.append(f"substances.csv: {row['cas']} is {chemical.common_name}, not {row['name']}")
        if abs(float(row["molar_mass"]) - chemical.MW) > MOLAR_MASS_TOLERANCE:
            faults.append(
                f"substances.csv: {row['name']} has {chemical.MW} g/mol in the library, here {row['molar_mass']}"
            )
        checked += 1
    return checked


def main():
    warnings.simplefilter("ignore")
    faults = []
    species = check_families(faults)
    substances = check_substances(faults)
    if species < 260 or substances < 85:
        faults.append("fewer rows were checked than the materia must hold")
    for fault in faults:
        print(fault)
    print(
        f"materia: {species} species against NCBI taxonomy, "
        f"{substances} substances against chemicals, {len(faults)} differences"
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
