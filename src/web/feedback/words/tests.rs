use super::plural::{Category, categories, category};
use super::*;
use serde_json::Value;

const ALL: [Language; 4] = [Language::English, Language::Welsh, Language::Polish, Language::Spanish];

/// What the Unicode CLDR says; version and way stand in the file.
fn cldr() -> Value {
    serde_json::from_str(include_str!("../../../../tests/reference/cldr/languages.json")).unwrap()
}

/// Fixed texts, without those of the trade.
fn plain(language: Language) -> Vec<&'static str> {
    let own = Words::of(language);
    let counted = |what: &Counted| {
        let what = *what;
        categories(language).iter().filter_map(move |form| (own.catalogue().count)(what, *form))
    };
    Key::ALL.iter().map(|key| own.t(key)).chain(Counted::ALL.iter().flat_map(counted)).collect()
}

fn of_the_trade(language: Language) -> Vec<&'static str> {
    Topic::ALL.iter().flat_map(|topic| <[_; 2]>::from(Words::of(language).advice(*topic))).collect()
}

/// Sentences; labels and headings, which are none, are left out.
fn sentences(texts: &[&'static str]) -> Vec<&'static str> {
    let split =
        |text: &'static str| text.split_inclusive(['.', '?', ':', ';']).map(str::trim).filter(|one| !one.is_empty());
    texts.iter().filter(|text| text.contains(['.', '?'])).flat_map(|text| split(text)).collect()
}

fn words(text: &str) -> usize {
    text.split_whitespace().count()
}

/// Automated Readability Index (Smith and Senter 1967): 4.71 characters a word + 0.5 words a sentence − 21.43.
fn readability(texts: &[&'static str]) -> f64 {
    let sentences = sentences(texts);
    let words: usize = sentences.iter().map(|one| words(one)).sum();
    let letters = sentences.iter().flat_map(|one| one.chars()).filter(|c| c.is_alphanumeric()).count();
    4.71 * letters as f64 / words as f64 + 0.5 * words as f64 / sentences.len() as f64 - 21.43
}

#[test]
fn sentences_are_short_in_every_language() {
    for language in ALL {
        for texts in [plain(language), of_the_trade(language)] {
            let sentences = sentences(&texts);
            assert!(sentences.len() > 25, "{language:?}: too few to say anything");
            let longest = sentences.iter().max_by_key(|one| words(one)).unwrap();
            assert!(words(longest) <= 25, "{longest}");
            let mean = sentences.iter().map(|one| words(one)).sum::<usize>() as f64 / sentences.len() as f64;
            assert!(mean <= 15.0, "{language:?}: {mean}");
        }
    }
}

#[test]
fn english_is_easy_to_read() {
    let (plain, trade) = (readability(&plain(Language::English)), readability(&of_the_trade(Language::English)));
    assert!(plain <= 6.0, "{plain}");
    assert!(trade <= 8.0, "{trade}");
}

/// Words a sentence, and for each word how many syllables it has.
fn measured(texts: &[&'static str], syllables: fn(&str) -> usize) -> (f64, Vec<usize>) {
    let sentences = sentences(texts);
    let count: usize = sentences.iter().map(|one| words(one)).sum();
    let each = sentences.iter().flat_map(|one| one.split_whitespace()).map(syllables).filter(|number| *number > 0);
    (count as f64 / sentences.len() as f64, each.collect())
}

/// Vowels of a Spanish word that make syllables: two weak ones, or a weak and a strong one, are one syllable unless the
/// weak one carries an accent.
fn spanish_syllables(word: &str) -> usize {
    let word = word.to_lowercase().replace("qu", "q").replace("gue", "ge").replace("gui", "gi");
    let (mut count, mut before) = (0, None);
    for letter in word.chars() {
        let kind = match letter {
            'a' | 'e' | 'o' | 'á' | 'é' | 'ó' | 'í' | 'ú' => Some(true),
            'i' | 'u' | 'ü' => Some(false),
            _ => None,
        };
        if kind.is_some_and(|strong| before.is_none_or(|earlier: bool| earlier && strong)) {
            count += 1;
        }
        before = kind;
    }
    count
}

/// Vowels of a Polish word; an `i` before another vowel only softens.
fn polish_syllables(word: &str) -> usize {
    let letters: Vec<char> = word.to_lowercase().chars().collect();
    let vowel = |letter: &char| "aąeęioóuy".contains(*letter);
    let soft = |at: usize| letters[at] == 'i' && letters.get(at + 1).is_some_and(vowel);
    (0..letters.len()).filter(|at| vowel(&letters[*at]) && !soft(*at)).count()
}

#[test]
fn syllables_are_counted_as_they_are_spoken() {
    for (word, number) in
        [("tensión", 2), ("revisión", 3), ("día", 2), ("quien", 1), ("evaluó", 3), ("aquí", 2), ("12", 0)]
    {
        assert_eq!(spanish_syllables(word), number, "{word}");
    }
    for (word, number) in
        [("napięciem", 3), ("wskaźnik", 2), ("egzaminator", 5), ("zmierz", 1), ("ponowne", 3), ("z", 0)]
    {
        assert_eq!(polish_syllables(word), number, "{word}");
    }
}

/// Fernández Huerta (1959), 206.84 − 60 syllables a word − 1.02 words a sentence: 70 and more is fairly easy, 60 to 70
/// normal. Its bands from memory.
#[test]
fn spanish_is_easy_to_read() {
    for (texts, least) in [(plain(Language::Spanish), 70.0), (of_the_trade(Language::Spanish), 70.0)] {
        let (a_sentence, syllables) = measured(&texts, spanish_syllables);
        let a_word = syllables.iter().sum::<usize>() as f64 / syllables.len() as f64;
        let score = 206.84 - 60.0 * a_word - 1.02 * a_sentence;
        assert!(score >= least, "{score}");
    }
}

/// Pisarek (1969), half the root of the sum of the squares of words a sentence and of the per cent of words with four
/// syllables and more: about the years of school that a reader needs. From memory; that it predicts understanding was
/// tried by Charzyńska and Dębowski (2015, doi 10.11649/cs.2015.010).
#[test]
fn polish_is_easy_to_read() {
    for (texts, most) in [(plain(Language::Polish), 9.0), (of_the_trade(Language::Polish), 9.0)] {
        let (a_sentence, syllables) = measured(&texts, polish_syllables);
        let long = syllables.iter().filter(|number| **number >= 4).count() as f64 / syllables.len() as f64 * 100.0;
        let score = (a_sentence.powi(2) + long.powi(2)).sqrt() / 2.0;
        assert!(score <= most, "{score}");
    }
}

#[test]
fn no_text_consoles_shouts_or_praises_in_general() {
    let banned = [
        "unfortunately",
        "sorry",
        "well done",
        "good job",
        "safe to",
        "yn anffodus",
        "mae'n ddrwg",
        "da iawn",
        "niestety",
        "przykro",
        "świetnie",
        "brawo",
        "por desgracia",
        "lamentablemente",
        "lo sentimos",
        "muy bien",
        "enhorabuena",
        "!",
        "¡",
    ];
    for language in ALL {
        for text in plain(language).into_iter().chain(of_the_trade(language)) {
            let lower = text.to_lowercase();
            for banned in banned {
                assert!(!lower.contains(banned), "{banned} in {text}");
            }
        }
    }
}

/// What a message puts in, such as `{day}`.
pub(super) fn places(text: &str) -> Vec<&str> {
    let mut places: Vec<&str> = text.split('{').skip(1).filter_map(|one| one.split('}').next()).collect();
    places.sort_unstable();
    places
}

#[test]
fn every_message_is_there_in_every_language_and_puts_in_the_same() {
    let english = Words::of(Language::English);
    for language in ALL {
        let own = Words::of(language);
        for key in Key::ALL {
            assert!(!own.t(key).trim().is_empty(), "{language:?} {key:?}");
            assert_eq!(places(own.t(key)), places(english.t(key)), "{language:?} {key:?}");
        }
        for topic in Topic::ALL {
            let (why, next) = own.advice(*topic);
            assert!(!why.is_empty() && !next.is_empty() && why != next, "{language:?} {topic:?}");
        }
        if language != Language::English {
            // The sign for minutes is the same in many languages.
            let same = |key: &&Key| own.t(*key) == english.t(*key) && **key != Key::MinutesShort;
            let same: Vec<_> = Key::ALL.iter().filter(same).collect();
            assert!(same.is_empty(), "{language:?} left in English: {same:?}");
            let same = Topic::ALL.iter().filter(|topic| own.advice(**topic) == english.advice(**topic)).count();
            assert_eq!(same, 0, "{language:?}");
        }
    }
}

/// The picture does not break lines: what stands in it has to fit a phone.
#[test]
fn words_in_the_picture_are_short() {
    use Key::*;
    let legend =
        [MarkSeen, MarkNotMet, MarkStruck, MarkSteppedIn, OutsideProofs, BetweenProofs, ClockStopped, ViewBlocked];
    let lanes = [LaneAuthority, LaneSecuring, LaneEquipment, LaneProving, LaneTesting, LaneFinishing];
    let places = [PlaceKept, PlaceInLock, PlaceOnBoard, PlaceOnTable, PlaceHandedOver];
    for own in ALL.map(Words::of) {
        let key = own.t(KeyBar).chars().count() + 2;
        for (most, keys) in [(36, &legend[..]), (36, &lanes), (36 - key, &places)] {
            for text in keys.iter().map(|key| own.t(*key)) {
                assert!(text.chars().count() <= most, "{text}");
            }
        }
    }
}

#[test]
fn no_two_topics_share_their_advice() {
    for language in ALL {
        let mut all: Vec<_> = Topic::ALL.iter().map(|topic| Words::of(language).advice(*topic)).collect();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), Topic::ALL.len(), "{language:?}");
    }
}

#[test]
fn plural_forms_are_those_of_the_cldr_and_complete() {
    let cldr = cldr();
    for language in ALL {
        let said = &cldr["plurals"][language.word()];
        let mut known: Vec<&str> = said["categories"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
        let mut ours: Vec<&str> = categories(language).iter().map(|one| one.word()).collect();
        known.sort_unstable();
        ours.sort_unstable();
        assert_eq!(ours, known, "{language:?}");
        for pair in said["of"].as_array().unwrap() {
            let n = usize::try_from(pair[0].as_u64().unwrap()).unwrap();
            assert_eq!(category(language, n).word(), pair[1].as_str().unwrap(), "{language:?} {n}");
        }
        let count = Words::of(language).catalogue().count;
        for (what, form) in Counted::ALL.iter().flat_map(|what| Category::ALL.map(|form| (*what, form))) {
            let has = count(what, form).is_some();
            assert_eq!(has, categories(language).contains(&form), "{language:?} {what:?} {form:?}");
        }
        for (what, n) in Counted::ALL.iter().flat_map(|what| [0, 1, 2, 3, 5, 6, 22].map(|n| (*what, n))) {
            let own = Words::of(language);
            let text = own.count(what, n);
            assert!(text.contains(&n.to_string()) || n == 0, "{text}");
            let form = count(what, category(language, n)).unwrap();
            let english = (Words::of(Language::English).catalogue().count)(what, Category::Other).unwrap();
            let (mut ours, mut theirs) = (places(form), places(english));
            ours.retain(|place| *place != "n");
            theirs.retain(|place| *place != "n");
            assert_eq!(ours, theirs, "{form}");
        }
    }
}

#[test]
fn dates_and_numbers_are_written_as_the_cldr_writes_them() {
    let cldr = cldr();
    for language in ALL {
        let own = Words::of(language);
        for (at, said) in cldr["dates"][language.word()].as_array().unwrap().iter().enumerate() {
            let month = time::Month::try_from(u8::try_from(at + 1).unwrap()).unwrap();
            let day = time::Date::from_calendar_date(2026, month, 4).unwrap().midnight();
            assert_eq!(own.day(day), said.as_str().unwrap());
        }
        assert_eq!(own.one_place(94.6), cldr["decimals"][language.word()].as_str().unwrap());
    }
}

#[test]
fn names_and_times_stand_apart_from_a_sentence_of_either_direction() {
    // Arabic stands for any language from right to left; none is offered yet.
    assert_eq!(
        (direction("ar"), direction("he-IL"), direction("en-GB"), direction("cy")),
        ("rtl", "rtl", "ltr", "ltr")
    );
    let pieces = fill("{name}، الدقيقة {minute}.", &[("name", Arg::Name("محمد")), ("minute", Arg::Ltr("07:42"))]);
    let texts: Vec<_> = pieces.iter().map(|piece| (piece.text.as_str(), piece.name, piece.ltr)).collect();
    assert_eq!(
        texts,
        [("محمد", true, false), ("، الدقيقة ", false, false), ("07:42", false, true), (".", false, false)]
    );
}

#[test]
fn pages_of_candidates_name_no_side_of_the_screen() {
    let css = include_str!("../../../../static/desk/feedback.css");
    for side in ["left", "right", "margin-top", "padding-top", "width:", "height:"] {
        assert!(!css.replace("inline-size:", "").replace("block-size:", "").contains(side), "{side}");
    }
}
