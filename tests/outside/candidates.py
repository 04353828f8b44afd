"""Reads a file as Python's own codecs and csv module do: candidates.py FILE CODEC SEPARATOR prints the rows as JSON.

Rows that hold nothing are left out, and line ends stay as they are. Python's documentation, modules csv and codecs.
"""
import csv
import io
import json
import sys

path, codec, separator = sys.argv[1:]
with open(path, "rb") as file:
    text = file.read().decode(codec)
rows = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=False)
rows = [row for row in rows if any(cell.strip() for cell in row)]
json.dump(rows, sys.stdout, ensure_ascii=True)
