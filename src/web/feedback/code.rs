//! The code that goes with a feedback link: eight letters and digits that cannot be taken for each other.

use rand::TryRng;

/// No 0 and O, no 1, I and L, no U.
const LETTERS: &[u8; 30] = b"23456789ABCDEFGHJKMNPQRSTVWXYZ";
/// How many there are in a code: 30⁸ codes, five tries.
const LENGTH: usize = 8;

/// A new code, from the operating system's randomness, every letter as likely as every other.
pub fn new() -> Result<String, rand::rngs::SysError> {
    let mut code = String::with_capacity(LENGTH);
    while code.len() < LENGTH {
        let mut bytes = [0; 16];
        rand::rngs::SysRng.try_fill_bytes(&mut bytes)?;
        // 240 is the largest multiple of 30 in a byte; what is above would favour the first letters.
        let fair = bytes.iter().filter(|byte| **byte < 240).map(|byte| char::from(LETTERS[usize::from(*byte) % 30]));
        code.extend(fair.take(LENGTH - code.len()));
    }
    Ok(code)
}

/// The code in two groups, as it is printed.
pub fn for_reading(code: &str) -> String {
    let (first, second) = code.split_at(code.len() / 2);
    format!("{first} {second}")
}

/// A typed code as it is compared: capitals, without spaces and dashes.
pub fn typed(text: &str) -> String {
    let kept = text.chars().filter(|c| !c.is_whitespace() && !matches!(c, '-' | '–'));
    kept.take(LENGTH * 4).collect::<String>().to_uppercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_holds_only_letters_that_cannot_be_confused() {
        for _ in 0..200 {
            let code = new().unwrap();
            assert_eq!(code.len(), LENGTH);
            assert!(code.bytes().all(|b| LETTERS.contains(&b)), "{code}");
        }
        assert_ne!(new().unwrap(), new().unwrap());
    }

    #[test]
    fn a_code_is_read_however_it_is_typed() {
        let code = new().unwrap();
        assert_eq!(typed(&for_reading(&code).to_lowercase()), code);
        assert_eq!(typed(" abcd-efgh "), "ABCDEFGH");
    }
}
