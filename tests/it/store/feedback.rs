//! The candidate's link, code and visits.

use crate::support::centre::{Fixture, NOW};
use baywitness::store::feedback::{LINK_DAYS, VISIT_MINUTES, WRONG_CODES, make_link, visit, visited};
use time::Duration;

const TOKEN: [u8; 32] = [1; 32];
const CODE: [u8; 32] = [2; 32];
const WRONG: [u8; 32] = [3; 32];
const VISIT: [u8; 32] = [4; 32];

#[tokio::test]
async fn the_right_code_opens_a_visit_that_ends_by_itself() {
    let fixture = Fixture::new().await;
    let (centre, session) = (&fixture.centre, Some(fixture.session));
    let mut tx = fixture.begin().await;
    make_link(&mut tx, centre, fixture.session, &TOKEN, &CODE, NOW).await.unwrap();
    assert_eq!(visit(&mut tx, centre, &[9; 32], &CODE, &VISIT, NOW).await.unwrap(), None, "an unknown link");
    assert_eq!(visit(&mut tx, centre, &TOKEN, &WRONG, &VISIT, NOW).await.unwrap(), None, "a wrong code");
    assert_eq!(visited(&mut tx, centre, &VISIT, NOW).await.unwrap(), None);
    assert_eq!(visit(&mut tx, centre, &TOKEN, &CODE, &VISIT, NOW).await.unwrap(), session);
    let last = NOW + Duration::minutes(VISIT_MINUTES) - Duration::seconds(1);
    assert_eq!(visited(&mut tx, centre, &VISIT, last).await.unwrap(), session);
    assert_eq!(visited(&mut tx, centre, &VISIT, last + Duration::seconds(1)).await.unwrap(), None);
    assert_eq!(visited(&mut tx, centre, &[9; 32], NOW).await.unwrap(), None);
}

#[tokio::test]
async fn wrong_codes_in_a_row_lock_the_link_and_a_right_one_between_starts_anew() {
    let fixture = Fixture::new().await;
    let centre = &fixture.centre;
    let mut tx = fixture.begin().await;
    make_link(&mut tx, centre, fixture.session, &TOKEN, &CODE, NOW).await.unwrap();
    for round in 0..3u8 {
        for _ in 1..WRONG_CODES {
            assert_eq!(visit(&mut tx, centre, &TOKEN, &WRONG, &[50; 32], NOW).await.unwrap(), None);
        }
        assert!(visit(&mut tx, centre, &TOKEN, &CODE, &[100 + round; 32], NOW).await.unwrap().is_some());
    }
    for _ in 0..WRONG_CODES {
        assert_eq!(visit(&mut tx, centre, &TOKEN, &WRONG, &[50; 32], NOW).await.unwrap(), None);
    }
    assert_eq!(visit(&mut tx, centre, &TOKEN, &CODE, &VISIT, NOW).await.unwrap(), None, "locked");
}

#[tokio::test]
async fn an_expired_or_revoked_link_opens_nothing() {
    let fixture = Fixture::new().await;
    let centre = &fixture.centre;
    let mut tx = fixture.begin().await;
    make_link(&mut tx, centre, fixture.session, &TOKEN, &CODE, NOW).await.unwrap();
    let end = NOW + Duration::days(LINK_DAYS);
    assert_eq!(visit(&mut tx, centre, &TOKEN, &CODE, &VISIT, end).await.unwrap(), None);
    assert!(visit(&mut tx, centre, &TOKEN, &CODE, &VISIT, NOW).await.unwrap().is_some());
    sqlx::query("UPDATE feedback_links SET revoked_at = $1").bind(NOW).execute(&mut *tx).await.unwrap();
    assert_eq!(visited(&mut tx, centre, &VISIT, NOW).await.unwrap(), None, "the visit ends with its link");
    assert_eq!(visit(&mut tx, centre, &TOKEN, &CODE, &[5; 32], NOW).await.unwrap(), None);
}
