//! Hidden causes on the pages: what the tests made would have missed, and the smallest addition.

use super::Served;
use super::examples::send_all;
use reqwest::StatusCode;

const MISSED: &str = include_str!("../../reference/examples/stairwell-last-switch-not-thrown.ndjson");
const COMPLETE: &str = include_str!("../../reference/examples/stairwell-flawless.ndjson");

async fn decide_page(log: &str) -> String {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    send_all(&served, &mine, log, 50).await;
    let (status, page) = served.get(&served.at("decide"), &mine).await;
    assert_eq!(status, StatusCode::OK);
    page
}

/// A switch never thrown leaves the strapper behind it untested: trade fact C11 and following, truth table of the
/// intermediate switch (`tests/reference/trade/facts.toml`, computed).
#[tokio::test]
async fn a_switch_that_was_not_thrown_is_told_with_what_it_would_have_missed() {
    let page = decide_page(MISSED).await;
    for part in [
        "What the tests would have missed: 2",
        "joined to Yard floodlight",
        "Throwing S3 and testing E–SL again would have shown it.",
    ] {
        assert!(page.contains(part), "{part} is missing from\n{page}");
    }
}

#[tokio::test]
async fn a_complete_proof_misses_nothing_and_its_rounds_are_all_filled() {
    let page = decide_page(COMPLETE).await;
    assert!(page.contains("What the tests would have missed: 0") && page.contains("all 10 of the hidden causes"));
    let table = page.split("rounds-made").nth(1).unwrap().split("</table>").next().unwrap();
    assert_eq!(table.matches("dead").count(), 12, "{table}");
}
