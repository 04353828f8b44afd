"""A workbook through openpyxl: no formula, no macro, no link; prints its cells as JSON rows, times as ISO 8601."""

import datetime
import json
import sys
import zipfile

import openpyxl

path = sys.argv[1]
names = zipfile.ZipFile(path).namelist()
for forbidden in ("vbaProject", "externalLinks"):
    assert not any(forbidden in name for name in names), names
book = openpyxl.load_workbook(path)
rows = []
for sheet in book:
    assert sheet.freeze_panes == "A2", sheet.freeze_panes
    for row in sheet.iter_rows():
        assert all(cell.data_type != "f" for cell in row), [cell.coordinate for cell in row if cell.data_type == "f"]
        rows.append([cell.value.isoformat() if isinstance(cell.value, datetime.datetime) else cell.value for cell in row])
json.dump(rows, sys.stdout)
