"""A calendar through the package icalendar, and its local times against the tz database (zoneinfo).

Parsing alone proves nothing: parsers take events without UID. Each component must have what it requires; each local
time, read by the file's own VTIMEZONE, must be the instant that zoneinfo makes of it. Prints the events as JSON."""

import datetime
import json
import sys
import zoneinfo

import icalendar

raw = open(sys.argv[1], "rb").read()
assert raw.endswith(b"\r\n") and b"\n" not in raw.replace(b"\r\n", b"")
assert max(len(line) for line in raw.split(b"\r\n")) <= 75
calendar = icalendar.Calendar.from_ical(raw)
for component in calendar.walk():
    missing = [name for name in component.required if name not in component]
    assert not missing, f"{component.name}: {missing}"
[zone] = calendar.walk("VTIMEZONE")
zone_name = str(zone["TZID"])
made = zone.to_tz()
truth = zoneinfo.ZoneInfo(zone_name)
events = []
for event in calendar.walk("VEVENT"):
    assert "UID" in event and "DTSTAMP" in event
    instants = []
    for name in ("DTSTART", "DTEND"):
        value = event[name].dt
        if event[name].params.get("TZID") in (None, "UTC"):
            assert value.utcoffset() == datetime.timedelta(0), value
            instants.append(value.astimezone(datetime.timezone.utc))
            continue
        naive = value.replace(tzinfo=None)
        by_file = naive.replace(tzinfo=made).utcoffset()
        by_truth = naive.replace(tzinfo=truth).utcoffset()
        assert by_file == by_truth, f"{naive}: {by_file} by the file, {by_truth} by the tz database"
        instants.append(naive.replace(tzinfo=truth).astimezone(datetime.timezone.utc))
    times = [at.strftime("%Y-%m-%dT%H:%M:%SZ") for at in instants]
    events.append([str(event["UID"]), str(event["SUMMARY"]), *times, str(event["SEQUENCE"]), str(event.get("STATUS", ""))])
json.dump(events, sys.stdout)
