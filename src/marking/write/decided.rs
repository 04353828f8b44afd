//! How a criterion is decided, as one value: `"by_eye"` or a rule with its parameters.

use crate::bay::plan::Rounds;
use crate::marking::checklist::Pattern;
use crate::marking::{Decided, Rule};
use crate::reading::to_toml;
use serde_json::Value;

/// The value of `decided` in TOML, on one line, such as `{ rule = "key_kept" }`. Parameters with the contract's default are
/// left out.
pub fn decided(decided: &Decided) -> String {
    match decided {
        Decided::ByEye => to_toml::text("by_eye"),
        Decided::Rule(rule) => {
            let name = ("rule".to_owned(), to_toml::text(rule.word()));
            to_toml::table(std::iter::once(name).chain(parameters(rule)))
        }
    }
}

/// The parameters that differ from their defaults, written.
fn parameters(rule: &Rule) -> Vec<(String, String)> {
    let mut written = Vec::new();
    let mut put = |key: &str, value: String| written.push((key.to_owned(), value));
    match rule {
        Rule::NoticePosted { filled } if !filled => put("filled", filled.to_string()),
        Rule::IndicatorSuitable { accepts, max_tip_mm } => {
            if *accepts != Rule::ACCEPTS {
                put("accepts", words(accepts.iter().map(|kind| kind.word())));
            }
            if *max_tip_mm != Rule::MAX_TIP_MM {
                put("max_tip_mm", to_toml::number(*max_tip_mm));
            }
        }
        Rule::IndicatorInspected { parts } => put("parts", words(parts.iter().map(|part| part.word()))),
        Rule::ProvedBeforeTesting { accepts } | Rule::ProvedAfterTesting { accepts } if *accepts != Rule::PROOFS => {
            put("accepts", words(accepts.iter().map(|on| on.word())));
        }
        Rule::AllRoundsTested { rounds } if *rounds != Rounds::default() => {
            put("rounds", to_toml::text(rounds_word(*rounds)));
        }
        Rule::Happened { act } | Rule::Never { act } => put("act", pattern(act)),
        Rule::Before { first, then } => {
            put("first", pattern(first));
            put("then", pattern(then));
        }
        _ => {}
    }
    written
}

fn words(words: impl Iterator<Item = &'static str>) -> String {
    to_toml::list(words.map(to_toml::text))
}

fn rounds_word(rounds: Rounds) -> &'static str {
    match rounds {
        Rounds::EachSwitch => "each_switch",
        Rounds::Minimum => "minimum",
        Rounds::EverySetting => "every_setting",
    }
}

fn pattern(pattern: &Pattern) -> String {
    let kind = ("kind".to_owned(), to_toml::text(&pattern.kind));
    let field = |(key, value): (&String, &Value)| {
        // A pattern that was read holds words, names, true and false.
        let value = value.as_str().map_or_else(|| value.to_string(), to_toml::text);
        (key.clone(), value)
    };
    to_toml::table(std::iter::once(kind).chain(pattern.fields.iter().map(field)))
}
