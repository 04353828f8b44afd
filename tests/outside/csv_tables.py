"""CSV files through Python's csv module in strict mode (RFC 4180) and Frictionless with the Table Schema beside them.

Prints what csv read, as JSON: {file: [[cell, ...], ...]}. Arguments: pairs of a CSV file and its schema."""

import csv
import json
import sys

from frictionless import Dialect, Resource, Schema

read = {}
for table, schema in zip(sys.argv[1::2], sys.argv[2::2]):
    with open(table, "rb") as file:
        raw = file.read()
    marked = raw.startswith(b"\xef\xbb\xbf")
    text = raw.decode("utf-8-sig")
    assert marked == ("-sheet" in table), f"{table}: the byte order mark"
    assert text.endswith("\r\n"), f"{table}: the last line end"
    rows = list(csv.reader(text.splitlines(keepends=True), strict=True))
    assert all(len(row) == len(rows[0]) for row in rows), f"{table}: rows of unequal width"
    read[table] = rows
    folder, _, name = table.rpartition("/")
    resource = Resource(path=name, basepath=folder, schema=Schema.from_descriptor(json.load(open(schema))), encoding="utf-8-sig" if marked else "utf-8")
    report = resource.validate()
    assert report.valid, f"{table}: {report.flatten(['rowNumber', 'fieldName', 'type', 'note'])[:5]}"
    # It would see a fault.
    broken = dict(json.load(open(schema)))
    broken["fields"] = [dict(field, type="date", format="default") for field in broken["fields"]]
    report = Resource(path=name, basepath=folder, schema=Schema.from_descriptor(broken), encoding="utf-8-sig" if marked else "utf-8").validate()
    assert len(rows) == 1 or not report.valid, f"{table}: anything is taken for valid"
json.dump(read, sys.stdout)
