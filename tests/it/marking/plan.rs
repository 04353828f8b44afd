//! Pairs and rounds against counting and the switching truth tables.

use crate::support::script::{stairwell, stairwell_with};
use baywitness::bay::plan::{Rounds, pairs, plan};
use baywitness::bay::{Conductor, Point, PointId, PointKind};

const FACTS: &str = include_str!("../../reference/trade/facts.toml");

fn facts() -> toml::Table {
    FACTS.parse().expect("the check values are TOML")
}

fn point_with(conductors: &[Conductor]) -> Point {
    let id = PointId::new("p").expect("well formed");
    Point {
        id,
        kind: PointKind::TerminalBox,
        label: "A box".into(),
        conductors: conductors.to_vec(),
        lamp: false,
        load: None,
    }
}

/// The trade's letters as ours: a rose's loop is the permanent line, its switched terminal the switched line.
fn conductor(letters: &str) -> Option<Conductor> {
    let ours = match letters {
        "LOOP_L" => "L",
        "SW_L" => "SL",
        other => other,
    };
    Conductor::ALL.into_iter().find(|conductor| conductor.letters() == ours)
}

/// Source: the systems of `tests/reference/trade/facts.toml` (pair counts by counting, fact C01).
#[test]
fn pairs_are_those_of_each_system() {
    let facts = facts();
    let systems = facts["system"].as_array().expect("systems");
    let mut compared = 0;
    for system in systems {
        let names: Vec<&str> =
            system["terminals"].as_array().expect("a list").iter().filter_map(|t| t.as_str()).collect();
        let Some(conductors) = names.iter().map(|name| conductor(name)).collect::<Option<Vec<_>>>() else { continue };
        let ours = pairs(&point_with(&conductors));
        assert_eq!(ours.len() as i64, system["pair_count"].as_integer().expect("a count"), "{names:?}");
        for pair in system["pairs"].as_array().expect("pairs") {
            let ends: Vec<Conductor> =
                pair.as_array().expect("a pair").iter().filter_map(|end| conductor(end.as_str()?)).collect();
            let there = ours.iter().any(|own| own.contains(&ends[0]) && own.contains(&ends[1]));
            assert!(there, "{names:?} lacks {pair}");
        }
        compared += 1;
    }
    assert_eq!(compared, 6, "L N E; L1 L2 L3 N E; L1 L2 L3 E; L1 L2 N E; L1 L2 E; and the rose");
}

#[test]
fn three_four_and_five_conductors_give_3_6_and_10_pairs() {
    use Conductor::{E, L, L1, L2, L3, N, Sl};
    for (conductors, count) in
        [(vec![L, N, E], 3), (vec![L, Sl, N, E], 6), (vec![L1, L2, L3, E], 6), (vec![L1, L2, L3, N, E], 10)]
    {
        let pairs = pairs(&point_with(&conductors));
        assert_eq!(pairs.len(), count);
        assert!(pairs.iter().all(|[first, second]| first.danger() <= second.danger()), "{pairs:?}");
    }
}

#[test]
fn rounds_follow_the_switches() {
    let task = stairwell();
    let rounds = |rounds| plan(&task.bay, rounds).rounds;
    assert_eq!((rounds(Rounds::EachSwitch), rounds(Rounds::Minimum), rounds(Rounds::EverySetting)), (4, 2, 8));
}

/// Source: the truth tables of `tests/reference/trade/facts.toml` (computed): in each of them throwing any one switch
/// turns the lamp over, so that two rounds expose a healthy arrangement, and the settings are 2ⁿ.
#[test]
fn any_one_switch_turns_the_lamp_over_so_two_rounds_are_the_fewest() {
    let facts = facts();
    let mut tables = 0;
    for table in facts["switching"].as_array().expect("tables") {
        let rows: Vec<Vec<i64>> = table["rows"]
            .as_array()
            .expect("rows")
            .iter()
            .map(|row| row.as_array().expect("a row").iter().filter_map(|cell| cell.as_integer()).collect())
            .collect();
        let switches = rows.len().ilog2() as usize;
        let positions = table["positions"].as_integer().expect("a count");
        assert_eq!(1i64 << switches, positions);
        let lamp =
            |setting: &[i64]| rows.iter().find(|row| row[..switches] == *setting).and_then(|row| row.last().copied());
        for row in &rows {
            for switch in 0..switches {
                let mut thrown = row[..switches].to_vec();
                thrown[switch] ^= 1;
                assert_ne!(lamp(&row[..switches]), lamp(&thrown), "{} {row:?} switch {switch}", table["id"]);
            }
        }
        tables += 1;
    }
    assert_eq!(tables, 3);
}

#[test]
fn where_the_permanent_line_reaches_the_point_one_round_shows_it() {
    let task = stairwell_with("wiring = \"feed_at_switch\"", "wiring = \"loop_in\"");
    let mut bay = task.bay;
    for circuit in &mut bay.circuits {
        for point in &mut circuit.points {
            if point.id == bay.isolate.point {
                point.conductors = vec![Conductor::L, Conductor::Sl, Conductor::N, Conductor::E];
            }
        }
    }
    let four = plan(&bay, Rounds::Minimum);
    assert_eq!((four.pairs.len(), four.rounds), (6, 1));
}
