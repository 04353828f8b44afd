use super::{FLAWLESS, STAIRWELL, stairwell};
use crate::marking::{Log, Observation, Task};
use proptest::prelude::*;

/// A text with some of its bytes changed.
fn mutated(text: &'static str) -> impl Strategy<Value = Vec<u8>> {
    let changes = prop::collection::vec((0..text.len(), any::<u8>()), 1..6);
    changes.prop_map(move |changes| {
        let mut bytes = text.as_bytes().to_vec();
        for (at, byte) in changes {
            bytes[at] = byte;
        }
        bytes
    })
}

fn read_all(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let _ = Task::read_toml(&text);
    let _ = Task::read_json(&text);
    let _ = Observation::read_json(&text);
    let _ = Log::read(bytes, &stairwell());
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(64) })]

    #[test]
    fn no_bytes_make_a_reader_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        read_all(&bytes);
    }

    #[test]
    fn no_marks_and_letters_make_a_reader_panic(text in "[\\[\\]{}\"'=.,:#a-e0-9 \\\\\n\r-]{0,200}") {
        read_all(text.as_bytes());
    }

    #[test]
    fn a_task_with_bytes_changed_is_read_or_refused(bytes in mutated(STAIRWELL)) {
        read_all(&bytes);
    }

    /// A changed log is refused with a fault, or every observation in it is as valid as before.
    #[test]
    fn a_log_with_bytes_changed_is_read_or_refused(bytes in mutated(FLAWLESS)) {
        let task = stairwell();
        match Log::read(&bytes, &task) {
            Err(faults) => prop_assert!(!faults.as_slice().is_empty()),
            Ok(log) => {
                prop_assert_eq!(log.observations().len(), 48);
                for observation in log.observations() {
                    prop_assert!(observation.check(&task, |_| true).is_empty());
                }
            }
        }
    }
}
