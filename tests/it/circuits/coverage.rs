//! The worked example of coverage, rebuilt from its hazards and tests.

use super::format::{Bench, Case, Plan, State, Step, file};
use baywitness::bay::coverage::judge::{self, Tried};
use baywitness::bay::solve::{Port, Solver};
use serde_json::{Value, json};
use std::collections::BTreeMap;

const POINT: &str = "ROSE";

/// Every port at the point, in every position, with some hazards.
struct Table {
    ports: BTreeMap<(State, String, String), Port>,
}

impl Table {
    fn new(case: &Case, bench: &Bench, hazards: &[String]) -> Self {
        let mut ports = BTreeMap::new();
        let mut solver = Solver::new(&bench.compiled);
        let ends = ends(case);
        for position in case.positions(&case.configurations[0].state) {
            let made = bench.made(&position, hazards).expect("no contradiction");
            let mut solved = solver.solve(&made).expect("a solution");
            for (a, node_a) in &ends {
                for (b, node_b) in ends.iter().filter(|(b, _)| b != a) {
                    let port = solved.between(bench.node(node_a), bench.node(node_b));
                    ports.insert((free(case, &position), a.clone(), b.clone()), port);
                }
            }
        }
        Self { ports }
    }

    fn verdict(&self, case: &Case) -> &'static str {
        let any = |ohm: &str| self.ports.values().any(|port| port.reading(case.indicators[ohm]) >= case.threshold_v);
        match (any("lo"), any("hi")) {
            (true, _) => "live",
            (false, true) => "weak",
            (false, false) => "dead",
        }
    }

    /// Whether a plan made from this start shows it with this indicator.
    fn shows(&self, case: &Case, plan: &Plan, start: &State, indicator: &str) -> bool {
        plan.steps.iter().any(|step| {
            assert_eq!(step.point, POINT);
            let moved = case.free.iter().map(|switch| {
                let same = step.state[switch] == plan.start[switch];
                let [one, other] = case.states_of(switch);
                let stands = if same == (start[switch] == one) { one } else { other };
                (switch.clone(), stands.to_owned())
            });
            let port = self.ports[&(moved.collect(), step.a.clone(), step.b.clone())];
            port.reading(case.indicators[indicator]) >= case.threshold_v
        })
    }
}

fn ends(case: &Case) -> Vec<(String, String)> {
    let own = case.point(POINT).iter().map(|(label, node)| (label.clone(), node.clone()));
    own.chain([("@ref".to_owned(), case.reference.clone())]).collect()
}

fn free(case: &Case, state: &State) -> State {
    case.free.iter().map(|switch| (switch.clone(), state[switch].clone())).collect()
}

fn sets(case: &Case, of: usize) -> Vec<Vec<String>> {
    let ids: Vec<String> = case.hazards.iter().map(|hazard| hazard.id.clone()).collect();
    match of {
        1 => ids.into_iter().map(|id| vec![id]).collect(),
        _ => (0..ids.len())
            .flat_map(|one| (one + 1..ids.len()).map(move |other| (one, other)))
            .map(|(one, other)| vec![ids[one].clone(), ids[other].clone()])
            .collect(),
    }
}

#[test]
fn the_coverage_table_comes_out() {
    let case = file("10-coverage-two-way-intermediate.json").remove(0);
    let bench = Bench::new(&case);
    for row in &case.coverage {
        let hazards: Vec<String> = serde_json::from_value(row["hazards"].clone()).expect("hazards");
        let table = Table::new(&case, &bench, &hazards);
        let shown = |indicator: &str| -> Vec<&str> {
            let plans = case.tests.iter().filter(|plan| table.shows(&case, plan, &plan.start, indicator));
            plans.map(|plan| plan.id.as_str()).collect()
        };
        let ours = json!({"hazards": hazards, "verdict": table.verdict(&case), "revealed_by": shown("hi"), "revealed_by_lo": shown("lo")});
        assert_eq!(ours, *row);
    }
    assert_eq!(case.coverage.len(), 1 + 14 + 91);
}

#[test]
fn the_coverage_from_every_start_comes_out() {
    let case = file("10-coverage-two-way-intermediate.json").remove(0);
    let bench = Bench::new(&case);
    let dangerous = |of| -> Vec<Table> {
        let tables = sets(&case, of).into_iter().map(|hazards| Table::new(&case, &bench, &hazards));
        tables.filter(|table| table.verdict(&case) == "live").collect()
    };
    let (singles, pairs) = (dangerous(1), dangerous(2));
    for row in &case.coverage_by_start {
        let start: State = serde_json::from_value(row["start"].clone()).expect("a start");
        for (size, tables) in [("single", &singles), ("pair", &pairs)] {
            for plan in &case.tests {
                let shown = tables.iter().filter(|table| table.shows(&case, plan, &start, "hi")).count();
                assert_eq!(row[size][&plan.id], Value::from(shown), "{start:?} {size} {}", plan.id);
            }
        }
    }
    assert_eq!(case.coverage_by_start.len(), 8);
    for (row, tables) in case.coverage_summary.iter().zip([&singles, &pairs]) {
        assert_eq!(row["dangerous"], Value::from(tables.len()));
        for (key, indicator) in [("revealed", "hi"), ("revealed_lo", "lo")] {
            for plan in &case.tests {
                let shown = tables.iter().filter(|table| table.shows(&case, plan, &plan.start, indicator)).count();
                assert_eq!(row[key][&plan.id], Value::from(shown), "{key} {}", plan.id);
            }
        }
    }
}

/// The service's own judgement of the worked example, from the worst start. Source: `coverage_by_start`.
#[test]
fn judged_from_the_worst_start_the_plans_show_as_many_singles_as_the_example_says() {
    let case = file("10-coverage-two-way-intermediate.json").remove(0);
    let bench = Bench::new(&case);
    let ends = ends(&case);
    let between: Vec<[usize; 2]> =
        (0..ends.len()).flat_map(|one| (one + 1..ends.len()).map(move |other| [one, other])).collect();
    let place = |label: &str| ends.iter().position(|(there, _)| there == label).expect("an end");
    let positions = 1 << case.free.len();
    for plan in &case.tests {
        let moved = |step: &Step| {
            let differs = |(at, switch): (usize, &String)| usize::from(step.state[switch] != plan.start[switch]) << at;
            case.free.iter().enumerate().map(differs).sum::<usize>()
        };
        let pair = |step: &Step| {
            let (one, other) = (place(&step.a), place(&step.b));
            between.iter().position(|pair| *pair == [one.min(other), one.max(other)]).expect("a pair")
        };
        let tried: Vec<Tried> = plan.steps.iter().map(|step| Tried { thrown: moved(step), pair: pair(step) }).collect();
        let (mut dangerous, mut shown) = (0, 0);
        for hazards in sets(&case, 1) {
            let readings = Table::new(&case, &bench, &hazards);
            let volts = (0..positions).flat_map(|setting| {
                let state = |at: usize| case.states_of(&case.free[at])[setting >> at & 1].to_owned();
                let state: State = case.free.iter().enumerate().map(|(at, it)| (it.clone(), state(at))).collect();
                let of = |[one, other]: &[usize; 2]| {
                    readings.ports[&(state.clone(), ends[*one].0.clone(), ends[*other].0.clone())].reading(7_000.0)
                };
                between.iter().map(of).collect::<Vec<f64>>()
            });
            // Without a lamp to take out the second half of the table is the first again.
            let volts: Vec<f64> = volts.collect::<Vec<f64>>().repeat(2);
            let table = judge::Table { starts: positions, own: between.len(), pairs: between.len(), volts };
            let judged = judge::judge(&table, &tried, tried.last().map_or(0, |tried| tried.thrown));
            dangerous += usize::from(judged.dangerous);
            shown += usize::from(judged.by.is_some());
            assert!(judged.missed.is_none() || judged.addition.is_some(), "{hazards:?} can be shown");
        }
        let worst = case.coverage_by_start.iter().filter_map(|row| row["single"][&plan.id].as_u64()).min();
        println!("{}: {shown} of {dangerous} from the worst start", plan.id);
        assert_eq!((dangerous, Some(shown as u64)), (5, worst), "{}", plan.id);
    }
}
