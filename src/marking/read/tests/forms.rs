use super::logs::{id, line};
use super::{lines, stairwell};
use crate::marking::observation::Wall;
use crate::marking::{Observation, ObservationId};
use serde_json::{Value, json};

/// One observation with another value under one key.
fn observed(key: &str, value: Value) -> Vec<String> {
    let mut one: Value = serde_json::from_str(&line(1, &json!({"kind": "started"}))).unwrap();
    one[key] = value;
    lines(Observation::read_json(&one.to_string()))
}

#[test]
fn an_id_is_a_uuid_of_version_7_as_rfc_9562_lays_it_out() {
    // RFC 9562, appendix A.6: the example of a version 7 UUID, of the instant 1645557742000 ms.
    let example = "017F22E2-79B0-7CC3-98C4-DC0C0C07398F";
    let one = line(1, &json!({"kind": "started"})).replace(&id(1), example);
    let ObservationId(uuid) = Observation::read_json(&one).unwrap().id;
    assert_eq!(uuid.as_u128() >> 80, 1_645_557_742_000);
    // Sections 4.1 and 4.2: the variant is the two upper bits of octet 8, the version the upper half of octet 6.
    let cases = [
        ("017F22E2-79B0-4CC3-98C4-DC0C0C07398F", "expected a UUID of version 7 (its 13th digit), found version 4"),
        // Appendix A.5: the example of a version 6 UUID.
        ("1EC9414C-232A-6B00-B3C8-9F6BDECED846", "expected a UUID of version 7 (its 13th digit), found version 6"),
        ("017F22E2-79B0-7CC3-C8C4-DC0C0C07398F", "this UUID is not of the variant that RFC 9562 describes"),
        ("017F22E2-79B0-7CC3-18C4-DC0C0C07398F", "this UUID is not of the variant that RFC 9562 describes"),
        // Section 5.9 and 5.10: the nil and the max UUID name nothing.
        ("00000000-0000-0000-0000-000000000000", "this UUID is not of the variant"),
        ("FFFFFFFF-FFFF-FFFF-FFFF-FFFFFFFFFFFF", "this UUID is not of the variant"),
        ("017F22E279B07CC398C4DC0C0C07398F", "expected a UUID, such as"),
        ("{017F22E2-79B0-7CC3-98C4-DC0C0C07398F}", "expected a UUID, such as"),
        ("urn:uuid:017F22E2-79B0-7CC3-98C4-DC0C0C07398F", "expected a UUID, such as"),
        ("017F22E2-79B0-7CC3-98C4-DC0C0C07398G", "expected a UUID, such as"),
    ];
    for (id, expected) in cases {
        let faults = observed("id", json!(id));
        assert_eq!(faults.len(), 1, "{id}");
        assert!(faults[0].starts_with(&format!("line 1, id: {expected}")), "{faults:?}");
    }
}

#[test]
fn wall_is_read_as_rfc_3339_writes_it() {
    let wall = |text: &str| {
        let one = line(1, &json!({"kind": "started"})).replace("2027-01-03T18:13:20Z", text);
        Observation::read_json(&one).map(|one| one.wall)
    };
    // RFC 3339, section 5.8: two spellings of one instant, and one with a fraction of a second.
    assert_eq!(wall("1996-12-19T16:39:57-08:00"), Ok(Wall(851_042_397_000)));
    assert_eq!(wall("1996-12-20T00:39:57Z"), Ok(Wall(851_042_397_000)));
    assert_eq!(wall("1985-04-12T23:20:50.52Z").unwrap().rfc3339(), "1985-04-12T23:20:50.520Z");
    assert_eq!(wall("1937-01-01T12:00:27.87+00:20").unwrap().rfc3339(), "1937-01-01T11:40:27.870Z");
    for text in ["yesterday", "2027-01-03", "2027-02-30T00:00:00Z", "2027-01-03T18:13:20", "9999-12-31T23:59:59-01:00"]
    {
        let expected = "line 1, wall: expected a date and time as in RFC 3339, such as 2027-02-03T10:03:04.250Z";
        assert_eq!(lines(wall(text)), [expected], "{text}");
    }
}

#[test]
fn numbers_of_an_observation_are_in_range() {
    assert_eq!(observed("at_ms", json!(86_400_000)), [""; 0]);
    for (key, value, expected) in [
        ("at_ms", json!(86_400_001), "at_ms: expected a whole number from 0 to 86400000, found 86400001"),
        ("at_ms", json!(-1), "at_ms: expected a whole number from 0 to 86400000, found -1"),
        ("at_ms", json!(1.5), "at_ms: expected a whole number from 0 to 86400000, found a number with a fraction"),
        ("at_ms", json!(u64::MAX), "at_ms: expected a whole number from 0 to 86400000, found a number with a fraction"),
        ("seq", json!(0), "seq: expected a whole number from 1 to 4294967295, found 0"),
        ("seq", json!("1"), "seq: expected a whole number from 1 to 4294967295, found text"),
        ("device", json!("Q1"), "device: `device` is not known here, expected one of id, seq, at_ms, wall or act"),
    ] {
        assert_eq!(observed(key, value.clone()), [format!("line 1, {expected}")], "{key} {value}");
    }
}

#[test]
fn what_rfc_8259_does_not_allow_is_refused() {
    let cases = [
        // Section 2: structural characters and white space.
        (r#"{"id":1,}"#, "key must be a string, at column 9"),
        (r#"{"id":[1,]}"#, "expected value, at column 10"),
        (r#"{"id":1"#, "EOF while parsing"),
        (r#"{"id":1} {"id":2}"#, "trailing characters"),
        ("{\u{a0}}", "key must be a string"),
        // Section 3: only true, false and null are names.
        (r#"{"id":True}"#, "expected value"),
        (r#"{"id":undefined}"#, "expected value"),
        // Section 4: names are strings.
        ("{id:1}", "key must be a string"),
        ("{'id':1}", "key must be a string"),
        // Section 6: no leading zero, no plus sign, digits on both sides of the point, no NaN.
        (r#"{"seq":01}"#, "invalid number"),
        (r#"{"seq":+1}"#, "expected value"),
        (r#"{"seq":.5}"#, "expected value"),
        (r#"{"seq":5.}"#, "invalid number"),
        (r#"{"seq":0x10}"#, "expected `,` or `}`"),
        (r#"{"seq":NaN}"#, "expected value"),
        // Section 7: control characters are escaped, and only some letters escape.
        ("{\"id\":\"a\tb\"}", "control character"),
        (r#"{"id":"\x41"}"#, "invalid escape"),
        (r#"{"id":"\u12"}"#, "invalid escape"),
        // Section 8.2: an unpaired surrogate is no character.
        (r#"{"id":"\ud800"}"#, "surrogate"),
        (r#"{"\udc00":1}"#, "surrogate"),
        // No comments.
        (r#"{"id":1} // one"#, "trailing characters"),
    ];
    let says = cases.map(|(text, expected)| (text, lines(Observation::read_json(text)), expected));
    let refused = |says: &[String], expected| {
        says.len() == 1 && says[0].starts_with("line 1: not valid JSON: ") && says[0].contains(expected)
    };
    let wrong: Vec<_> = says.iter().filter(|(_, says, expected)| !refused(says, expected)).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn an_observation_is_checked_against_its_task_on_its_own() {
    let strike = json!({"kind": "struck", "observation": id(1), "reason": "twice"});
    let strike = Observation::read_json(&line(2, &strike)).unwrap();
    assert_eq!(strike.check(&stairwell(), |known| known.0.to_string() == id(1)), []);
    let faults = strike.check(&stairwell(), |_| false);
    assert_eq!((faults.len(), faults[0].line, faults[0].path.as_str()), (1, 1, "act.observation"));
    assert_eq!(strike.struck().map(|struck| struck.0.to_string()), Some(id(1)));
}
