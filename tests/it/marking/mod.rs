//! The pure heart: rules, verdicts and laws, against the worked examples and the check values of the trade.

mod clock;
mod examples;
mod fitness;
mod laws;
mod library;
mod library_at_work;
mod plan;
mod retrial;
mod rules_before;
mod rules_proving;
mod seeing;
mod verdicts;
