"""Checks how the texts of the cautions and stops read.

Each caution has at most twenty words and each label text at most forty characters, one text has one level wherever it
stands, and the reading grade of Flesch and Kincaid (library readability) is at most 8 on average. Exits with 1 and one
line for each fault.

May use: the standard library, readability. Never happens here: writing a file, reaching the network.
"""

import csv
import pathlib
import re
import statistics
import sys

import readability

DATA = pathlib.Path(__file__).resolve().parents[2] / "services" / "materia" / "data"
MOST_WORDS = 20
MOST_LABEL = 40
MOST_GRADE = 8.0
WORD = r"[\w'’-]+"


def rows(name):
    with open(DATA / name, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def grade(text):
    """The grade of Flesch and Kincaid. The library wants one sentence a line, words and marks apart."""
    tokens = " ".join(re.findall(WORD + r"|[.;:,!?]", text)).replace(" . ", " .\n")
    return readability.getmeasures(tokens, lang="en")["readability grades"]["Kincaid"]


def words(text):
    """The words of a text. A list of audiences after a colon is not counted."""
    before, colon, after = text.partition(":")
    listed = colon and "," in after
    return len(re.findall(WORD, before if listed else text))


def main():
    faults, grades, said = [], [], {}
    texts = [(row["key"], row["text"], row["label"], row["level"]) for row in rows("cautions.csv")]
    for key, text, label, level in texts:
        grades.append(grade(text))
        if words(text) > MOST_WORDS:
            faults.append(f"cautions.csv {key}: {words(text)} words")
        if len(label) > MOST_LABEL:
            faults.append(f"cautions.csv {key}: the label text has {len(label)} characters")
        if not text.rstrip().endswith("."):
            faults.append(f"cautions.csv {key}: the text does not end a sentence")
        # In a set the two are one caution, at one level.
        if said.setdefault(text.lower(), level) != level:
            faults.append(f"cautions.csv {key}: the same text stands at another level")
    mean = statistics.mean(grades)
    if mean > MOST_GRADE:
        faults.append(f"cautions.csv: the reading grade is {mean:.1f} on average, {MOST_GRADE} at most")
    for fault in faults:
        print(fault)
    lengths = [words(text) for _, text, _, _ in texts]
    print(
        f"{len(texts)} texts: grade {mean:.1f} on average, {statistics.mean(lengths):.1f} words on average, "
        f"{max(lengths)} at most; {len(faults)} faults"
    )
    return 1 if faults or len(texts) < 300 else 0


if __name__ == "__main__":
    sys.exit(main())
