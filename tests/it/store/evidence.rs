//! Entries are taken once, in one unbroken chain, each with its answer.

use crate::support::centre::{Fixture, NOW, flawless, new_id, observation, person};
use baywitness::marking::Observation;
use baywitness::seal::{Content, Digest, Entry, Salt, chain, commitment};
use baywitness::store::entries::{self, Arrival, MOST_ENTRIES, Receipt};
use baywitness::store::staff;

fn accepted(from: i64, many: usize) -> Vec<Receipt> {
    (from..).take(many).map(Receipt::Accepted).collect()
}

#[tokio::test]
async fn a_log_comes_back_as_it_was_sent_and_the_chain_is_the_one_of_its_lines() {
    let fixture = Fixture::open().await;
    let sent = flawless(&fixture.task);
    assert_eq!(fixture.append(&sent).await, accepted(2, sent.len()), "the opened entry is the first");
    assert_eq!(fixture.log().await.observations(), sent);
    let (count, head, lines) = fixture.chain().await;
    assert_eq!(usize::try_from(count).unwrap(), lines.len());
    assert_eq!(lines.len(), sent.len() + 1);
    assert_eq!(chain::head(fixture.session.0, lines.iter().map(String::as_str)).as_str(), head);
    for (line, seen) in lines[1..].iter().zip(&sent) {
        let entry = Entry::read(line).unwrap();
        assert!(entry.holds(seen, None));
        assert_eq!((entry.origin.offset, entry.origin.error), (-1_830, 120));
        assert_eq!(entry.origin.received, NOW.unix_timestamp() * 1_000);
    }
}

#[tokio::test]
async fn opening_commits_to_the_candidate_and_to_the_task_version() {
    let fixture = Fixture::open().await;
    let mut tx = fixture.begin().await;
    assert!(!entries::open(&mut tx, &fixture.centre, fixture.session, &fixture.arrival()).await.unwrap());
    let (salt, body): (Vec<u8>, String) =
        sqlx::query_as("SELECT salt, body FROM texts").fetch_one(&mut *tx).await.unwrap();
    assert_eq!(body, "Zoë Invented|REG-0042");
    let (count, _, lines) = fixture.chain().await;
    assert_eq!(count, 1);
    let salt = Salt::new(salt.try_into().unwrap());
    let expected = Content::Opened {
        candidate: commitment::candidate(&salt, &body),
        task: Digest::of(crate::support::centre::TASK),
    };
    assert_eq!(Entry::read(&lines[0]).unwrap().content, expected);
}

#[tokio::test]
async fn the_same_batch_sent_again_stores_nothing_twice() {
    let fixture = Fixture::open().await;
    let sent = flawless(&fixture.task);
    fixture.append(&sent).await;
    let before = fixture.chain().await;
    let again: Vec<_> = (2..).take(sent.len()).map(Receipt::Duplicate).collect();
    let later = Arrival {
        run: "r-2".to_owned(),
        received_at: NOW + time::Duration::hours(1),
        offset_ms: 7,
        ..fixture.arrival()
    };
    assert_eq!(fixture.append(&sent).await, again);
    assert_eq!(fixture.append_as(&later, &sent).await, again, "what the server sets does not count");
    assert_eq!(fixture.chain().await, before);
}

#[tokio::test]
async fn a_batch_cut_anywhere_and_sent_in_pieces_with_repeats_gives_the_same_log() {
    let sent = flawless(&Fixture::new().await.task);
    for size in [1, 2, 7, 47] {
        let fixture = Fixture::open().await;
        for piece in sent.chunks(size) {
            fixture.append(piece).await;
            fixture.append(piece).await;
        }
        assert_eq!(fixture.log().await.observations(), sent, "pieces of {size}");
    }
}

#[tokio::test]
async fn other_content_under_a_known_name_is_a_conflict_and_writes_nothing() {
    let fixture = Fixture::open().await;
    let id = new_id();
    let first = observation(id, 1, r#"{"kind":"remark","text":"clean work"}"#);
    let other_text = observation(id, 1, r#"{"kind":"remark","text":"clean work!"}"#);
    let other_act = observation(id, 1, r#"{"kind":"started"}"#);
    let other_time = observation(id, 2, r#"{"kind":"remark","text":"clean work"}"#);
    assert_eq!(fixture.append(std::slice::from_ref(&first)).await, [Receipt::Accepted(2)]);
    let before = fixture.chain().await;
    let sent = [other_text, other_act, other_time, first.clone()];
    let expected = [Receipt::Conflict, Receipt::Conflict, Receipt::Conflict, Receipt::Duplicate(2)];
    assert_eq!(fixture.append(&sent).await, expected);
    assert_eq!(fixture.chain().await, before);

    let mut tx = fixture.begin().await;
    let by = staff::add(&mut tx, &fixture.centre, &person("ash")).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    let another = Arrival { by, ..fixture.arrival() };
    assert_eq!(fixture.append_as(&another, &[first]).await, [Receipt::Conflict], "another marker's log is another log");
}

#[tokio::test]
async fn repeats_and_conflicts_within_one_batch_are_seen() {
    let fixture = Fixture::open().await;
    let id = new_id();
    let first = observation(id, 1, r#"{"kind":"remark","text":"one"}"#);
    let other = observation(id, 1, r#"{"kind":"remark","text":"two"}"#);
    let batch = [first.clone(), first, other];
    let expected = [Receipt::Accepted(2), Receipt::Duplicate(2), Receipt::Conflict];
    assert_eq!(fixture.append(&batch).await, expected);
    assert_eq!(fixture.chain().await.0, 2);
}

#[tokio::test]
async fn one_bad_observation_never_blocks_its_neighbours() {
    let fixture = Fixture::open().await;
    let batch = [
        observation(new_id(), 1, r#"{"kind":"started"}"#),
        observation(new_id(), 2, r#"{"kind":"switched","device":"Q99","to":"off"}"#),
        observation(new_id(), 3, r#"{"kind":"switched","device":"Q2","to":"off"}"#),
    ];
    let receipts = fixture.append(&batch).await;
    assert_eq!((&receipts[0], &receipts[2]), (&Receipt::Accepted(2), &Receipt::Accepted(3)));
    let Receipt::Refused(why) = &receipts[1] else { panic!("{receipts:?}") };
    assert!(why.contains("act.device") && why.contains("Q99"), "{why}");
    assert_eq!(fixture.chain().await.0, 3);
}

#[tokio::test]
async fn only_what_the_same_marker_recorded_before_can_be_struck() {
    let fixture = Fixture::open().await;
    let (tap, unknown) = (new_id(), new_id());
    let strike = |of| format!(r#"{{"kind":"struck","observation":"{of}","reason":"mis_tap"}}"#);
    let tapped = observation(tap, 1, r#"{"kind":"switched","device":"Q1","to":"off"}"#);
    let struck = observation(new_id(), 2, &strike(tap));
    let nothing = observation(new_id(), 3, &strike(unknown));
    // In one batch, and then across batches.
    let receipts = fixture.append(&[nothing.clone(), tapped, struck]).await;
    assert!(matches!(receipts[0], Receipt::Refused(_)), "{receipts:?}");
    assert_eq!(receipts[1..], [Receipt::Accepted(2), Receipt::Accepted(3)]);
    assert_eq!(fixture.append(&[observation(new_id(), 4, &strike(tap))]).await, [Receipt::Accepted(4)]);

    let mut tx = fixture.begin().await;
    let by = staff::add(&mut tx, &fixture.centre, &person("ash")).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    let another = Arrival { by, ..fixture.arrival() };
    let receipts = fixture.append_as(&another, &[observation(new_id(), 1, &strike(tap))]).await;
    assert!(matches!(receipts[0], Receipt::Refused(_)), "another marker's observation: {receipts:?}");
    let opened = Entry::read(&fixture.chain().await.2[0]).unwrap().id;
    let receipts = fixture.append(&[observation(new_id(), 5, &strike(opened))]).await;
    assert!(matches!(receipts[0], Receipt::Refused(_)), "the opened entry is no observation: {receipts:?}");
}

#[tokio::test]
async fn two_markers_write_two_logs_in_one_chain() {
    let fixture = Fixture::open().await;
    let mut tx = fixture.begin().await;
    let by = staff::add(&mut tx, &fixture.centre, &person("ash")).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    let (mine, yours) =
        (observation(new_id(), 1, r#"{"kind":"started"}"#), observation(new_id(), 1, r#"{"kind":"started"}"#));
    fixture.append(std::slice::from_ref(&mine)).await;
    fixture.append_as(&Arrival { by, ..fixture.arrival() }, std::slice::from_ref(&yours)).await;
    assert_eq!(fixture.log().await.observations(), [mine]);
    let mut tx = fixture.begin().await;
    let log = entries::log_of(&mut tx, &fixture.centre, fixture.session, by, &fixture.task).await.unwrap();
    assert_eq!(log.observations(), [yours]);
    assert_eq!(fixture.chain().await.0, 3);
}

#[tokio::test]
async fn nothing_is_taken_before_the_session_is_open() {
    let fixture = Fixture::new().await;
    let receipts = fixture.append(&[observation(new_id(), 1, r#"{"kind":"started"}"#)]).await;
    assert_eq!(receipts, [Receipt::Refused("the session is not open yet".to_owned())]);
    let (count, head, lines) = fixture.chain().await;
    assert_eq!((count, lines), (0, Vec::new()));
    assert_eq!(head, chain::start(fixture.session.0).as_str());
}

#[tokio::test]
async fn free_text_stays_out_of_the_lines() {
    let fixture = Fixture::open().await;
    let text = "Prüfer: 0 V — \\\"dead\\\", '; DROP TABLE entries; --";
    let remark = observation(new_id(), 1, &format!(r#"{{"kind":"remark","text":"{text}"}}"#));
    let same_text = observation(new_id(), 2, &format!(r#"{{"kind":"remark","text":"{text}"}}"#));
    let sent = [remark, same_text];
    assert_eq!(fixture.append(&sent).await, accepted(2, 2));
    let (_, _, lines) = fixture.chain().await;
    assert!(lines.iter().all(|line| !line.contains("Prüfer") && !line.contains("Zo")), "{lines:?}");
    let commitments: Vec<_> = lines[1..]
        .iter()
        .map(|line| match Entry::read(line).unwrap().content {
            Content::Observed { act } => act.commitment().map(str::to_owned),
            other => panic!("{other:?}"),
        })
        .collect();
    assert_ne!(commitments[0], commitments[1], "the same text under another salt");
    assert_eq!(fixture.log().await.observations(), sent);
}

#[tokio::test]
async fn what_cannot_stand_in_a_line_is_refused_with_a_reason() {
    let fixture = Fixture::open().await;
    let start = observation(new_id(), 1, r#"{"kind":"started"}"#);
    let odd = Arrival { device: "not an identifier".to_owned(), ..fixture.arrival() };
    let receipts = fixture.append_as(&odd, std::slice::from_ref(&start)).await;
    assert!(matches!(&receipts[0], Receipt::Refused(why) if why.contains("dev")), "{receipts:?}");
    assert_eq!(fixture.append(&[start]).await, [Receipt::Accepted(2)]);
}

#[tokio::test]
async fn a_session_is_full_at_two_thousand_entries() {
    let fixture = Fixture::open().await;
    let many = u32::try_from(MOST_ENTRIES).unwrap();
    let sent: Vec<Observation> =
        (1..=many).map(|seq| observation(new_id(), seq, r#"{"kind":"operated","switch":"S1"}"#)).collect();
    let mut receipts = Vec::new();
    for piece in sent.chunks(500) {
        receipts.extend(fixture.append(piece).await);
    }
    let taken = receipts.iter().filter(|receipt| matches!(receipt, Receipt::Accepted(_))).count();
    assert_eq!(taken, sent.len() - 1, "the opened entry is one of them");
    assert_eq!(receipts.last(), Some(&Receipt::Refused("a session holds at most 2,000 entries".to_owned())));
    assert_eq!(fixture.append(&sent[..1]).await, [Receipt::Duplicate(2)], "a full session still answers");
}

#[tokio::test]
async fn an_append_reads_the_entry_before_and_not_the_whole_session() {
    let fixture = Fixture::open().await;
    let sent: Vec<Observation> =
        (1..=500).map(|seq| observation(new_id(), seq, r#"{"kind":"operated","switch":"S1"}"#)).collect();
    let mut tx = fixture.begin().await;
    let (centre, session, arrival) = (&fixture.centre, fixture.session, fixture.arrival());
    let receipts = entries::append(&mut tx, centre, session, &fixture.task, &arrival, &sent).await.unwrap();
    assert_eq!(receipts, accepted(2, sent.len()));
    let read: i64 = sqlx::query_scalar(
        "SELECT coalesce(seq_tup_read, 0) + coalesce(idx_tup_fetch, 0)
         FROM pg_stat_xact_user_tables WHERE relname = 'entries'",
    )
    .fetch_one(&mut *tx)
    .await
    .unwrap();
    assert!((500..1_100).contains(&read), "{read} rows were read to append 500");
}
