//! The circuit as a picture: small, told in words too, and with nothing that a strict page would block.

use super::bays::{EXTRACTOR, ONE_WAY, ROSE, bay, stairwell, with_off, with_switches};
use baywitness::bay::coverage::singles;
use baywitness::bay::drawing::circuit;
use baywitness::bay::network::State;
use baywitness::bay::{Bay, Conductor, Standards};

fn bays() -> Vec<(&'static str, Bay)> {
    let loop_in = || {
        let text = crate::support::script::STAIRWELL.replacen("feed_at_switch", "loop_in", 1).replacen(
            "[\"SL\", \"N\", \"E\"]",
            "[\"L\", \"SL\", \"N\", \"E\"]",
            1,
        );
        bay(&text)
    };
    vec![
        ("one-way", with_switches(ONE_WAY)),
        ("two-way", with_switches(super::bays::TWO_WAY)),
        ("intermediate", stairwell()),
        ("intermediate-loop-in", loop_in()),
        ("one-way-loop-in", bay(ROSE)),
        ("three-phase", bay(EXTRACTOR)),
        ("motor", {
            let load = "\"N\", \"E\"], load = { connection = \"delta\", ohm = 20 } }]";
            bay(&super::bays::changed(EXTRACTOR, &[("\"N\", \"E\"] }]", load)]))
        }),
    ]
}

#[test]
fn every_picture_is_small_and_tells_itself_in_words() {
    for (name, bay) in bays() {
        let state = with_off(&bay, &[bay.isolate.device.as_str()]);
        let svg = circuit(&bay, &state, &[], "c1");
        // With DRAWINGS set to a folder the pictures can be looked at.
        if let Ok(folder) = std::env::var("DRAWINGS") {
            std::fs::write(format!("{folder}/{name}.svg"), &svg).expect("a folder to write to");
        }
        assert!(svg.len() <= 20_000, "{name}: {} bytes", svg.len());
        assert!(svg.contains("role=\"img\" aria-labelledby=\"c1-t c1-d\""));
        assert!(svg.find("<title").expect("a title") < svg.find("<desc").expect("a description"));
        assert!(svg.contains(&format!("{} (", bay.isolate.device)) && svg.contains("is off."), "{name}");
        for banned in ["style", "<script", "href", "url(", "onload"] {
            assert!(!svg.contains(banned), "{name}: {banned}");
        }
        let point = bay.point(&bay.isolate.point).expect("the point");
        for conductor in &point.conductors {
            assert!(svg.contains(&format!(">{conductor}</text>")), "{name}: {conductor}");
        }
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{name}");
    }
}

#[test]
fn every_fault_can_be_marked_and_is_told() {
    for (name, bay) in bays() {
        let state = State::set_up(&bay);
        let plain = circuit(&bay, &state, &[], "c").len();
        for fault in singles(&bay) {
            let svg = circuit(&bay, &state, std::slice::from_ref(&fault), "c");
            assert!(svg.len() > plain && svg.contains("Marked:"), "{name}: {}", fault.id());
        }
    }
}

#[test]
fn labels_cannot_break_out_of_the_picture() {
    let mut bay = stairwell();
    bay.board.label = "</title><script>alert(1)</script>&".into();
    bay.circuits[0].points[0].label = "\"<b>\u{1}".into();
    let svg = circuit(&bay, &State::set_up(&bay), &[], "c");
    assert!(!svg.contains("<script") && !svg.contains("<b>") && !svg.contains('\u{1}'));
}

/// Source: `tests/reference/trade/facts.toml`, colours.
#[test]
fn conductors_have_the_colours_of_their_country() {
    let facts: toml::Table = include_str!("../../reference/trade/facts.toml").parse().expect("TOML");
    let sets = [
        ("gb_ie_eu_now", vec![Standards::Gb, Standards::Ie, Standards::Eu], 230),
        ("us_120_208_custom", vec![Standards::Us], 120),
        ("us_277_480_custom", vec![Standards::Us], 277),
        ("au_nz_older", vec![Standards::Au], 230),
    ];
    for (id, standards, volts) in sets {
        let colours = facts["colours"].as_array().expect("colours");
        let set = colours.iter().find(|set| set["id"].as_str() == Some(id)).expect("the set");
        for standards in standards {
            for conductor in [Conductor::L1, Conductor::L2, Conductor::L3, Conductor::N, Conductor::E] {
                let ours = standards.colour(conductor, volts).name();
                assert_eq!(set[conductor.letters()].as_str(), Some(ours), "{id} {conductor}");
            }
        }
    }
}

#[test]
fn a_marked_picture_differs_where_the_fault_is() {
    let bay = stairwell();
    let mut state = with_off(&bay, &["Q2"]);
    super::bays::set(&bay, &mut state, 0b110);
    let faults: Vec<_> = singles(&bay).into_iter().filter(|fault| fault.id() == "joined_strapper:S1:2").collect();
    let svg = circuit(&bay, &state, &faults, "m");
    if let Ok(folder) = std::env::var("DRAWINGS") {
        std::fs::write(format!("{folder}/marked.svg"), &svg).expect("a folder to write to");
    }
    assert_eq!(svg.matches(">!</text>").count(), 1);
    assert!(svg.contains("S2 crossed") && svg.contains("S3 at 2"), "{svg}");
}
