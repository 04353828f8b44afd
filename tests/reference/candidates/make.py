#!/usr/bin/env python3
"""Writes messy.csv, a list of 500 rows as such lists are, and what is wrong with it.

Every name is invented, put together from parts at random (the seed is fixed). Run it here: it writes messy.csv and
messy.json. What is expected is written down while a row is made, not read off the file.
"""
import json
import pathlib
import random

random.seed(20270203)
HERE = pathlib.Path(__file__).parent
GIVEN = ["Zoë", "Seán", "Łucja", "Þórdís", "Ana María", "Nguyễn", "İlker", "Jean-Luc", "Mary Ann", "Øyvind", "Šárka",
         "محمد", "Олена", "Γιώργος", "李", "山田", "김", "प्रिया", "สมชาย", "דוד", "Xóchitl", "Aoife", "T.", "Bo"]
FAMILY = ["O’Brien-Ní Dhomhnaill", "O'Rourke", "de la Cruz", "Żółć", "Ng", "van ’t Hof", "Smith, Jr", "D\"Arcy", "بن عبد الله",
          "Шевченко", "Παπαδόπουλος", "小龍", "太郎", "민준", "शर्मा", "ใจดี", "לוי", "Ünal", "Sørensen", "Šťastný", "=Sum", "-Ito"]
SINGLE = ["Sukarno", "Ng", "=1+1", "@home", "李小龍", "X Æ"]
EXTRA = ["", "", "", "", "25", " 25 ", "50 %", "0", "10%", "２５", "٢٥"]
BAD_EXTRA = ["a quarter", "-5", "2.5", "301", "25 min", "1e2"]
READER = ["", "", "", "yes", "No", "x", "TRUE", "0"]


def cell(text):
    """As programs and people write it: quoted where it must be, and at times where it need not be."""
    if any(sign in text for sign in '";\r\n') or random.random() < 0.15:
        return '"' + text.replace('"', '""') + '"'
    return text


lines, expected, references = [], {"faults": [], "people": {}, "blank": 0}, {}
lines.append("Full name;Candidate No.;Extra time;Reader;Known as;Group")
number = 1
made = 0
while made < 500:
    number += 1
    if random.random() < 0.04:
        lines.append(random.choice(["", ";;;;;", "  ", ";;"]))
        expected["blank"] += 1
        continue
    made += 1
    name = random.choice(SINGLE) if random.random() < 0.08 else f"{random.choice(GIVEN)} {random.choice(FAMILY)}"
    reference = f"NQ-{made:04}"
    extra, reader = random.choice(EXTRA), random.choice(READER)
    called = random.choice(["", "", "", "Zed", "Mac"])
    group = random.choice(["A", "B", "evening; Tuesdays", "line one\nline two"])
    faults, more = [], []
    kind = random.random()
    if kind < 0.03:
        name = ""
        faults.append(("Full name", "fill this in"))
    elif kind < 0.06:
        reference = ""
        faults.append(("Candidate No.", "fill this in"))
    elif kind < 0.10:
        extra = random.choice(BAD_EXTRA)
        faults.append(("Extra time", "whole number"))
    elif kind < 0.13:
        reader = "maybe"
        faults.append(("Reader", "yes or no"))
    elif kind < 0.16 and references:
        reference = random.choice(list(references))
        faults.append(("Candidate No.", f"Row {references[reference]} has this reference"))
    elif kind < 0.18:
        more = ["stray"]
        faults.append(("column 7", "more cells"))
    elif kind < 0.19:
        name = "N" * 201
        faults.append(("Full name", "200 characters"))
    row = [name, reference, extra, reader, called, group] + more
    trailing = ";" * random.choice([0, 0, 0, 1, 2]) if not more else ""
    lines.append(";".join(map(cell, row)) + trailing)
    for column, says in faults:
        expected["faults"].append({"row": number, "column": column, "says": says})
    if not faults:
        references[reference] = number
        expected["people"][reference] = name
    # A line end within a cell makes no row of its own.
text = "\r\n".join(lines) + "\r\n"
(HERE / "messy.csv").write_bytes(text.encode("utf-8-sig"))
(HERE / "messy.json").write_text(json.dumps(expected, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
print(f"{made} rows, {len(expected['faults'])} faults, {expected['blank']} blank, {len(expected['people'])} people")
