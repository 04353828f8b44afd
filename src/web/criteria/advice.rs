//! What could be better about the words of a criterion: advice, never a fault.

use crate::marking::Criterion;

/// Longest sentence that is easily taken in, in words: the limit of the style guide for GOV.UK (from memory, not read).
const WORDS: usize = 25;

/// Words that name no act.
const EMPTY: [&str; 24] = [
    "the", "and", "you", "your", "that", "this", "with", "for", "was", "were", "not", "did", "does", "before", "after",
    "from", "into", "have", "has", "had", "one", "them", "they", "then",
];

/// What could be better, each a sentence.
pub fn of(criterion: &Criterion) -> Vec<String> {
    let mut advice = Vec::new();
    let feedback = [("met", &criterion.when_met), ("not met", &criterion.when_not_met)];
    for (outcome, text) in feedback {
        let Some(text) = text else {
            advice.push(format!(
                "There is no feedback for when it is {outcome}. The candidate then reads a general sentence."
            ));
            continue;
        };
        let longest =
            text.split(['.', '!', '?']).map(|sentence| sentence.split_whitespace().count()).max().unwrap_or(0);
        if longest > WORDS {
            advice.push(format!(
                "A sentence of the feedback for {outcome} has {longest} words. Up to {WORDS} are easy to take in: make two of it."
            ));
        }
        if !names_the_act(&criterion.says, text) {
            advice.push(format!(
                "The feedback for {outcome} does not name the act. Say which one: “{}”.",
                criterion.says.trim_end_matches('.')
            ));
        }
    }
    advice
}

/// Whether a text shares a telling word with the criterion, whatever its ending.
fn names_the_act(says: &str, text: &str) -> bool {
    let stems = |text: &str| -> Vec<String> {
        let words = text.to_lowercase();
        let words = words.split(|c: char| !c.is_alphanumeric());
        let telling = words.filter(|word| word.chars().count() > 2 && !EMPTY.contains(word));
        telling.map(|word| word.chars().take(4).collect()).collect()
    };
    let named = stems(says);
    named.is_empty() || stems(text).iter().any(|stem| named.contains(stem))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bay::Standards;
    use crate::marking::library;

    fn criterion(says: &str, met: Option<&str>, not_met: Option<&str>) -> Criterion {
        let shipped = library::criteria(Standards::Gb)[0].criterion.clone();
        let text = |text: Option<&str>| text.map(str::to_owned);
        Criterion { says: says.into(), when_met: text(met), when_not_met: text(not_met), ..shipped }
    }

    #[test]
    fn good_words_get_no_advice() {
        let good = criterion("Keeps the key", Some("You kept the key."), Some("Keep the key on you."));
        assert_eq!(of(&good), Vec::<String>::new());
    }

    #[test]
    fn missing_long_and_vague_feedback_is_pointed_out() {
        let long = "keep the key ".repeat(9);
        let advice = of(&criterion("Keeps the key", None, Some(&long)));
        assert_eq!(advice.len(), 2, "{advice:?}");
        assert!(advice[0].contains("no feedback") && advice[1].contains("27 words"), "{advice:?}");
        let advice = of(&criterion("Keeps the key", Some("Well done."), Some("Keep it: the key.")));
        assert_eq!(advice.len(), 1, "{advice:?}");
        assert!(advice[0].contains("does not name the act"), "{advice:?}");
    }
}
