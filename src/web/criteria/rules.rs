//! Every rule in plain words, for whoever chooses one.

use crate::marking::Rule;

/// A rule as a person chooses it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Words {
    /// Its name in files.
    pub word: &'static str,
    pub name: &'static str,
    /// When it is met, in a sentence.
    pub says: &'static str,
}

/// Rules that belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Family {
    pub title: &'static str,
    pub rules: &'static [Words],
}

const fn rule(word: &'static str, name: &'static str, says: &'static str) -> Words {
    Words { word, name, says }
}

/// Every rule, in the order in which an attempt goes.
pub const FAMILIES: [Family; 6] = [
    Family {
        title: "Before switching off",
        rules: &[
            rule(
                "circuit_identified",
                "Names the right circuit",
                "Met when the right circuit and its device were named before anything was switched.",
            ),
            rule(
                "sources_listed",
                "Names every supply",
                "Met when every supply that the bay has was named before switching.",
            ),
            rule(
                "permission_before_switching",
                "Asks for leave and gets it",
                "Met when leave was asked for and given before the first switching.",
            ),
            rule("load_removed_first", "Takes the load off first", "Met when the load was off before the device was."),
            rule(
                "only_named_device_switched",
                "Switches only the named device",
                "Met when no other device was ever switched. A knock that was put right still counts.",
            ),
        ],
    },
    Family {
        title: "Securing",
        rules: &[
            rule("lock_off_fits", "The lock-off device fits", "Met when a lock-off device that fits was put on."),
            rule("locked_and_tried", "Locks and tries the lock", "Met when the padlock was closed and holds."),
            rule("key_kept", "Keeps the key", "Met when the key was kept from locking on, wherever it was seen."),
            rule("notice_posted", "Hangs the notice", "Met when a notice hangs on the named device."),
            rule(
                "secured_before_testing",
                "Secures before testing",
                "Met when the device was off, locked off and the padlock held before the first test.",
            ),
            rule(
                "nothing_removed_early",
                "Leaves everything on",
                "Met when nothing was taken off and nothing switched on before the circuit was declared dead.",
            ),
            rule(
                "controls_tried",
                "Tries the controls",
                "Met when the controls were tried after securing and nothing started.",
            ),
        ],
    },
    Family {
        title: "Indicator and proving",
        rules: &[
            rule(
                "indicator_suitable",
                "Uses a suitable indicator",
                "Met when every test was made with an instrument that you accept, sound, in date, and with short enough tips.",
            ),
            rule(
                "indicator_inspected",
                "Looks the indicator over",
                "Met when the parts that you choose were looked over before the first test.",
            ),
            rule(
                "proved_before_testing",
                "Proves the indicator before",
                "Met when the indicator showed everything it should before the first test.",
            ),
            rule(
                "proved_after_testing",
                "Proves the indicator after",
                "Met when the same indicator showed everything it should after the last test.",
            ),
        ],
    },
    Family {
        title: "Testing",
        rules: &[
            rule("all_pairs_tested", "Tests every pair", "Met when every pair of conductors was tested at least once."),
            rule(
                "all_rounds_tested",
                "Tests in every round",
                "Met when every pair was tested again after the switches were thrown, as often as you ask.",
            ),
            rule(
                "less_dangerous_first",
                "Less dangerous conductor first",
                "Met when earth came before neutral and neutral before line going on, and the other way round coming off.",
            ),
            rule(
                "point_closed_between_rounds",
                "Closes the point between rounds",
                "Met when the point was closed each time before a switch was thrown.",
            ),
            rule(
                "lamp_out_before_testing",
                "Takes the lamp out first",
                "Met when the lamp was out before the first test.",
            ),
            rule(
                "live_reading_heeded",
                "Heeds a live reading",
                "Met when a live reading was followed by more switching off and fresh tests, or none was seen.",
            ),
            rule(
                "no_touch_before_proof",
                "Touches nothing before the proof",
                "Met when no conductor was touched before all tests were made and the indicator proved again.",
            ),
        ],
    },
    Family {
        title: "Finishing, time and help",
        rules: &[
            rule(
                "declared_last",
                "Declares it dead last",
                "Met when the circuit was declared dead after the last test and proof.",
            ),
            rule("within_time", "Keeps to the time", "Met when the session ended within the time allowed."),
            rule("never_prompted", "Needs no help", "Met when the assessor never gave help."),
            rule("never_stepped_in", "Needs no stepping in", "Met when the assessor never had to step in."),
        ],
    },
    Family {
        title: "Your own rule",
        rules: &[
            rule("happened", "An act was seen", "Met when an act that you describe was seen at least once."),
            rule("never", "An act was never seen", "Met when an act that you describe was never seen."),
            rule("before", "One act before another", "Met when one act was seen before the first time of another."),
        ],
    },
];

/// A rule by its name in files.
pub fn named(word: &str) -> Option<&'static Words> {
    FAMILIES.iter().flat_map(|family| family.rules).find(|rule| rule.word == word)
}

/// How a criterion is decided, in a few words.
pub fn decided_words(decided: &crate::marking::Decided) -> String {
    use crate::marking::Decided;
    match decided {
        Decided::ByEye => "by eye".into(),
        Decided::Rule(rule) => format!("worked out: {}", named(rule.word()).map_or(rule.word(), |words| words.name)),
    }
}

/// The parameters of a rule as sentences; none where it has none.
pub fn parameters(rule: &Rule) -> Vec<String> {
    let list = |words: Vec<&'static str>| words.into_iter().map(plain).collect::<Vec<_>>().join(", ");
    match rule {
        Rule::NoticePosted { filled: true } => vec!["The notice must be filled in.".into()],
        Rule::NoticePosted { filled: false } => vec!["A blank notice will do.".into()],
        Rule::IndicatorSuitable { accepts, max_tip_mm } => vec![
            format!("Accepts: {}.", list(accepts.iter().map(|one| one.word()).collect())),
            format!("Bare tips of at most {max_tip_mm} mm."),
        ],
        Rule::IndicatorInspected { parts } => {
            vec![format!("Parts: {}.", list(parts.iter().map(|one| one.word()).collect()))]
        }
        Rule::ProvedBeforeTesting { accepts } | Rule::ProvedAfterTesting { accepts } => {
            vec![format!("Proved on: {}.", list(accepts.iter().map(|one| one.word()).collect()))]
        }
        Rule::AllRoundsTested { rounds } => vec![format!("Rounds: {}.", rounds_words(rounds_word(*rounds)))],
        Rule::Happened { act } | Rule::Never { act } => vec![format!("The act: {}.", act_words(act))],
        Rule::Before { first, then } => {
            vec![format!("First: {}.", act_words(first)), format!("Then: {}.", act_words(then))]
        }
        _ => Vec::new(),
    }
}

fn act_words(act: &crate::marking::checklist::Pattern) -> String {
    let kind = crate::marking::act_form::KINDS.iter().find(|(kind, _)| *kind == act.kind);
    let mut says = kind.map_or(act.kind.clone(), |(_, says)| (*says).to_owned());
    for (field, value) in &act.fields {
        let value =
            value.as_str().map_or_else(|| if *value == true { "yes".into() } else { "no".into() }, str::to_owned);
        says.push_str(&format!("; {} {value}", plain(field)));
    }
    says
}

/// A word of a file as a person reads it.
pub fn plain(word: &str) -> String {
    word.replace('_', " ")
}

/// The spelling of rounds in files.
pub fn rounds_word(rounds: crate::marking::Rounds) -> &'static str {
    use crate::marking::Rounds;
    match rounds {
        Rounds::EachSwitch => "each_switch",
        Rounds::Minimum => "minimum",
        Rounds::EverySetting => "every_setting",
    }
}

/// What each choice of rounds means.
pub const ROUNDS: [(&str, &str); 3] = [
    ("each_switch", "as found, and again after each switch is thrown once"),
    ("minimum", "the fewest that show a healthy switching arrangement"),
    ("every_setting", "every setting of the switches"),
];

fn rounds_words(word: &str) -> &'static str {
    ROUNDS.iter().find(|(one, _)| *one == word).map_or("", |(_, says)| says)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_has_words_and_no_other() {
        let mut told: Vec<&str> = FAMILIES.iter().flat_map(|family| family.rules).map(|rule| rule.word).collect();
        assert_eq!(told.len(), Rule::WORDS.len());
        told.sort_unstable();
        let mut rules = Rule::WORDS;
        rules.sort_unstable();
        assert_eq!(told, rules);
        for rule in FAMILIES.iter().flat_map(|family| family.rules) {
            assert!(rule.says.starts_with("Met when") && rule.says.ends_with('.'), "{}", rule.word);
        }
    }
}
