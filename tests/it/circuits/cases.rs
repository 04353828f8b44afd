//! Every reading, verdict, report, error and claim of the reference cases.

use super::format::{Bench, Case, Configuration, State, file, files};
use baywitness::bay::solve::{Report, Solver, Unsolvable};
use serde_json::{Value, json};

/// Readings compared, and the largest deviation among them in volts.
#[derive(Default)]
struct Compared {
    readings: usize,
    worst: f64,
}

#[test]
fn every_reading_is_within_the_tolerance() {
    let mut total = Compared::default();
    println!("| file | readings | largest deviation, V |\n| --- | --- | --- |");
    for name in files() {
        let mut compared = Compared::default();
        for case in file(&name) {
            compare(&case, &mut compared);
        }
        println!("| `{name}` | {} | {:.1e} |", compared.readings, compared.worst);
        total.readings += compared.readings;
        total.worst = total.worst.max(compared.worst);
    }
    println!("| all | {} | {:.1e} |", total.readings, total.worst);
    assert_eq!(total.readings, 26_330);
}

fn compare(case: &Case, compared: &mut Compared) {
    let bench = Bench::new(case);
    let mut solver = Solver::new(&bench.compiled);
    for configuration in case.configurations.iter().filter(|it| it.error.is_none()) {
        let made = bench.made(&configuration.state, &configuration.hazards).expect("no contradiction");
        let mut solved = solver.solve(&made).expect("a solution");
        for reading in &configuration.readings {
            let name = |end: &String| match &reading.point {
                Some(point) => case.point(point)[end].clone(),
                None => end.clone(),
            };
            let (a, b) = (bench.node(&name(&reading.a)), bench.node(&name(&reading.b)));
            let volts = solved.reading(a, b, case.indicators[&reading.indicator]);
            let deviation = (volts - reading.volts).abs();
            let place = format!("{} {} {reading:?}", case.id, configuration.id);
            assert!(deviation <= case.tolerance_v, "{place}: {volts}");
            compared.readings += 1;
            compared.worst = compared.worst.max(deviation);
        }
    }
}

#[test]
fn every_verdict_is_the_same() {
    let mut verdicts = 0;
    for case in files().iter().flat_map(|name| file(name)) {
        let bench = Bench::new(&case);
        for configuration in &case.configurations {
            for verdict in &configuration.verdicts {
                let place = format!("{} {} {}", case.id, configuration.id, verdict.point);
                let now = verdict_of(
                    &case,
                    &bench,
                    configuration,
                    &verdict.point,
                    std::slice::from_ref(&configuration.state),
                );
                assert_eq!(now, verdict.now, "{place}");
                let all = case.positions(&configuration.state);
                let any = verdict_of(&case, &bench, configuration, &verdict.point, &all);
                assert_eq!(any, verdict.any_position, "{place}");
                verdicts += 2;
            }
        }
    }
    assert!(verdicts > 1_000, "{verdicts}");
}

fn verdict_of(
    case: &Case,
    bench: &Bench,
    configuration: &Configuration,
    point: &str,
    states: &[State],
) -> &'static str {
    let nodes = case.nodes_at(point);
    let mut solver = Solver::new(&bench.compiled);
    let mut worst = [0.0_f64; 2];
    for state in states {
        let made = bench.made(state, &configuration.hazards).expect("no contradiction");
        let mut solved = solver.solve(&made).expect("a solution");
        for (at, a) in nodes.iter().enumerate() {
            for b in &nodes[at + 1..] {
                let port = solved.between(bench.node(a), bench.node(b));
                for (worst, ohm) in worst.iter_mut().zip(["lo", "hi"]) {
                    *worst = worst.max(port.reading(case.indicators[ohm]));
                }
            }
        }
    }
    match worst.map(|volts| volts >= case.threshold_v) {
        [true, _] => "live",
        [false, true] => "weak",
        [false, false] => "dead",
    }
}

#[test]
fn every_report_and_error_is_the_same() {
    let (mut reports, mut errors) = (0, 0);
    for case in files().iter().flat_map(|name| file(name)) {
        let bench = Bench::new(&case);
        let mut solver = Solver::new(&bench.compiled);
        for configuration in &case.configurations {
            let place = format!("{} {}", case.id, configuration.id);
            let made = bench.made(&configuration.state, &configuration.hazards);
            let solved = made.as_ref().map_err(Clone::clone).and_then(|made| solver.solve(made));
            match (solved, &configuration.error) {
                (Err(why), Some(error)) => {
                    assert_eq!(as_json(&why), *error, "{place}");
                    errors += 1;
                }
                (Err(why), None) => panic!("{place}: {why}"),
                (Ok(_), Some(error)) => panic!("{place}: solved in spite of {error}"),
                (Ok(solved), None) => {
                    let Some(expected) = &configuration.report else { continue };
                    let ours: Vec<Value> = solved.reports().iter().map(|report| report_json(&bench, report)).collect();
                    assert_eq!(sorted(ours), sorted(expected.clone()), "{place}");
                    reports += 1;
                }
            }
        }
    }
    assert_eq!((reports, errors), (6, 3));
}

fn as_json(why: &Unsolvable) -> Value {
    match why {
        Unsolvable::IdealSourceLoop(source) => json!({"kind": "ideal_source_loop", "ids": [source]}),
        Unsolvable::Conflict(thing) => json!({"kind": "hazard_conflict", "ids": [thing]}),
        Unsolvable::Part { .. } => panic!("{why}"),
    }
}

fn report_json(bench: &Bench, report: &Report) -> Value {
    match report {
        Report::Overcurrent { source, amps } => {
            json!({"kind": "source_overcurrent", "source": source, "amps": (amps * 1e3).round() / 1e3})
        }
        Report::Floating { nodes } => {
            let mut names: Vec<&str> = nodes.iter().map(|&node| bench.compiled.network().name(node)).collect();
            names.sort_unstable();
            json!({"kind": "floating", "nodes": names})
        }
    }
}

fn sorted(mut all: Vec<Value>) -> Vec<String> {
    all.sort_by_key(Value::to_string);
    all.iter().map(Value::to_string).collect()
}

#[test]
fn every_claim_worked_out_by_hand_holds() {
    let mut claims = 0;
    for case in files().iter().flat_map(|name| file(name)) {
        let bench = Bench::new(&case);
        let mut solver = Solver::new(&bench.compiled);
        for claim in &case.claims {
            let found = case.configurations.iter().find(|it| it.id == claim.configuration).expect("a configuration");
            let made = bench.made(&found.state, &found.hazards).expect("no contradiction");
            let point = case.point(&claim.point);
            let (a, b) = (bench.node(&point[&claim.a]), bench.node(&point[&claim.b]));
            let volts = solver.solve(&made).expect("a solution").reading(a, b, case.indicators[&claim.indicator]);
            assert!((claim.min..=claim.max).contains(&volts), "{} {claim:?}: {volts}", case.id);
            claims += 1;
        }
    }
    assert_eq!(claims, 497);
}
