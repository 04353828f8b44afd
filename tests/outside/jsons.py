"""Whether check-jsonschema's validator (Python jsonschema, formats asserted) takes documents for valid.

Arguments: the schema, and a file with one document a line. Prints one true or false a line."""

import json
import sys

import jsonschema

schema = json.load(open(sys.argv[1]))
jsonschema.Draft202012Validator.check_schema(schema)
formats = jsonschema.FormatChecker()


# Without further packages the library knows no date-time.
@formats.checks("date-time", raises=ValueError)
def date_time(text):
    import datetime

    if not isinstance(text, str):
        return True
    import re

    if not re.fullmatch(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)", text):
        return False
    datetime.datetime.fromisoformat(text)
    return True


validator = jsonschema.Draft202012Validator(schema, format_checker=formats)
for line in open(sys.argv[2]):
    print(json.dumps(validator.is_valid(json.loads(line))))
