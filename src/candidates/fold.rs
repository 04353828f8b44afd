//! What a search compares: words without accents and case, in any script.

use unicode_normalization::UnicodeNormalization;

/// Longest word that is compared, in characters; of a longer one its beginning is.
const LONGEST_WORD: usize = 40;

/// The same text without what a person who looks for it may leave out or write otherwise: case, accents and other marks
/// above and below Latin, Greek and Cyrillic letters, Hebrew and Arabic vowel signs, full and half width (compatibility
/// decomposition, Unicode Standard Annex 15), and the strokes of letters such as ł and ø. The vowel signs of Indic and
/// other scripts stay: there they make the word.
pub fn fold(text: &str) -> String {
    let mut folded = String::with_capacity(text.len());
    for c in text.nfkd().filter(|c| !is_left_out(*c)).flat_map(char::to_lowercase) {
        match plain(c) {
            Some(letters) => folded.push_str(letters),
            // Lower case may itself bring a mark, as that of İ does.
            None if is_left_out(c) => {}
            None => folded.push(c),
        }
    }
    folded
}

/// The words of these texts that a search finds them by, folded, each once: what stands between spaces, whole and in its
/// parts (`REG-42`: `reg42`, `reg`, `42`); in scripts that are written without spaces, from each character on.
pub fn words<'t>(texts: impl IntoIterator<Item = &'t str>) -> Vec<String> {
    let mut words = Vec::new();
    for text in texts {
        for chunk in fold(text).split_whitespace() {
            let parts = parts(chunk);
            words.push(parts.concat());
            for part in parts {
                words.extend(later_beginnings(part));
                words.push(part.to_owned());
            }
        }
    }
    for word in &mut words {
        *word = beginning(word);
    }
    words.retain(|word| !word.is_empty());
    words.sort_unstable();
    words.dedup();
    words
}

/// The beginnings that a search text asks for, folded: every one must begin some word of a candidate.
pub fn beginnings(text: &str) -> Vec<String> {
    let folded = fold(text);
    let mut asked: Vec<String> = folded.split_whitespace().flat_map(parts).map(beginning).collect();
    // The longest says most; the others are looked at only in what it finds.
    asked.sort_by_key(|word| std::cmp::Reverse(word.chars().count()));
    asked.dedup();
    asked
}

/// What a name is sorted by: its words, folded.
pub fn sort_key(name: &str) -> String {
    let folded = fold(name);
    let words: Vec<&str> = folded.split_whitespace().flat_map(parts).collect();
    // A name of signs only has no word, and still a place.
    if words.is_empty() { folded } else { words.join(" ") }
}

/// The letters and digits between other signs.
fn parts(chunk: &str) -> Vec<&str> {
    chunk.split(|c: char| !c.is_alphanumeric() && !is_mark(c)).filter(|part| !part.is_empty()).collect()
}

fn beginning(word: &str) -> String {
    word.chars().take(LONGEST_WORD).collect()
}

/// Where words are not set apart by spaces, a word may begin at any character.
fn later_beginnings(part: &str) -> impl Iterator<Item = String> {
    let unspaced = part.chars().any(is_unspaced);
    part.char_indices().skip(1).filter(move |_| unspaced).map(|(at, _)| part[at..].to_owned())
}

/// Han, kana, Thai, Lao, Khmer and Myanmar (Unicode 16.0, blocks).
fn is_unspaced(c: char) -> bool {
    matches!(u32::from(c),
        0x0E00..=0x0EFF | 0x1000..=0x109F | 0x1780..=0x17FF | 0x3005..=0x3007 | 0x3040..=0x30FF | 0x3400..=0x4DBF
        | 0x4E00..=0x9FFF | 0xF900..=0xFAFF | 0x20000..=0x3FFFF)
}

/// A mark that belongs to the letter before it.
fn is_mark(c: char) -> bool {
    unicode_normalization::char::is_combining_mark(c)
}

/// Combining diacritical marks, Hebrew points, Arabic vowel signs and the tatweel (Unicode 16.0, blocks 0300, 0590, 0600,
/// 1AB0, 1DC0), the joiners, and the signs for the direction of text.
fn is_left_out(c: char) -> bool {
    matches!(u32::from(c),
        0x0300..=0x036F | 0x0483..=0x0487 | 0x0591..=0x05BD | 0x05BF | 0x05C1..=0x05C2 | 0x05C4..=0x05C5 | 0x05C7
        | 0x0610..=0x061A | 0x0640 | 0x064B..=0x065F | 0x0670 | 0x06D6..=0x06DC | 0x1AB0..=0x1AFF | 0x1DC0..=0x1DFF
        | 0x200B..=0x200F | 0x202A..=0x202E | 0x2060..=0x2069 | 0xFEFF)
}

/// Letters that decomposition leaves whole, as they are written without the sign on the keyboard.
fn plain(c: char) -> Option<&'static str> {
    Some(match c {
        'ß' => "ss",
        'æ' => "ae",
        'œ' => "oe",
        'ø' => "o",
        'ł' => "l",
        'đ' | 'ð' => "d",
        'ħ' => "h",
        'ı' => "i",
        'ŧ' => "t",
        'þ' => "th",
        'ς' => "σ",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether a search for `asked` finds `name`, as the store compares.
    fn finds(asked: &str, name: &str) -> bool {
        let words = words([name]);
        beginnings(asked).iter().all(|beginning| words.iter().any(|word| word.starts_with(beginning.as_str())))
    }

    #[test]
    fn a_name_is_found_by_the_beginning_of_any_of_its_words() {
        let found = [
            ("zazol", "Zażółć"),
            ("ZAŻÓŁ", "Zażółć"),
            ("obrien", "O’Brien-Ní Dhomhnaill"),
            ("brien ni", "O’Brien-Ní Dhomhnaill"),
            ("o'brien", "O’Brien-Ní Dhomhnaill"),
            ("dhom o", "O’Brien-Ní Dhomhnaill"),
            ("strasse", "Anna Straße"),
            ("ng", "Ng"),
            ("عبد", "محمد بن عبد الله"),
            ("مُحَمَّد", "محمد بن عبد الله"),
            ("احمد", "أحمد"),
            ("小龍", "李小龍"),
            ("李", "李小龍"),
            ("김ㅁ", "김ㅁ"),
            ("김민", "김민준"),
            ("ｔａｎａｋａ", "Tanaka"),
            ("σοφος", "Σοφός"),
            ("istanbul", "İstanbul"),
            ("प्रि", "प्रिया शर्मा"),
            ("reg-42", "REG-42"),
            ("42", "REG-42"),
            ("reg42", "REG-42"),
            ("1", "=1+1"),
        ];
        for (asked, name) in found {
            assert!(finds(asked, name), "{asked} in {name}: {:?} in {:?}", beginnings(asked), words([name]));
        }
        for (asked, name) in [("azol", "Zażółć"), ("龍李", "李小龍"), ("brien x", "O’Brien"), ("が", "か")]
        {
            assert!(!finds(asked, name), "{asked} in {name}");
        }
    }

    #[test]
    fn signs_alone_ask_for_nothing() {
        assert_eq!(beginnings(" - ' "), Vec::<String>::new());
        assert_eq!(words(["- '"]), Vec::<String>::new());
        assert_eq!(sort_key("‒"), "‒");
        assert_eq!(sort_key("  Zażółć   O’Brien "), "zazolc o brien");
    }

    #[test]
    fn no_word_is_longer_than_what_is_compared() {
        let long = "長".repeat(200);
        assert!(words([long.as_str()]).iter().all(|word| word.chars().count() <= LONGEST_WORD));
        assert!(finds(&long, &long));
    }
}
