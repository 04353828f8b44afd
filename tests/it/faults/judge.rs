//! Compares what tablets were told with what is stored.

use baywitness::seal::{Entry, chain};
use sqlx::PgConnection;
use std::collections::HashMap;
use uuid::Uuid;

/// What was found wrong.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Verdict {
    /// Acknowledged, and not there.
    pub lost: usize,
    /// There more than once.
    pub doubled: usize,
    /// Sessions whose chain does not lead to the head that they state, or whose count is another.
    pub broken: usize,
}

/// What a session stores: its stated count and head, and its lines in order.
pub struct Stored {
    pub session: Uuid,
    pub count: i64,
    pub head: String,
    pub lines: Vec<String>,
}

/// Every session of the database, read as its owner.
pub async fn stored(owner: &mut PgConnection) -> Vec<Stored> {
    let sessions: Vec<(Uuid, i64, String)> =
        sqlx::query_as("SELECT session_id, count, head FROM sessions").fetch_all(&mut *owner).await.unwrap();
    let mut all = Vec::with_capacity(sessions.len());
    for (session, count, head) in sessions {
        let lines = sqlx::query_scalar("SELECT line FROM entries WHERE session_id = $1 ORDER BY n")
            .bind(session)
            .fetch_all(&mut *owner)
            .await
            .unwrap();
        all.push(Stored { session, count, head, lines });
    }
    all
}

/// Judges by the lines themselves, not by the columns beside them.
pub fn judge(acknowledged: &[Uuid], stored: &[Stored]) -> Verdict {
    let mut times: HashMap<Uuid, usize> = HashMap::new();
    let mut broken = 0;
    for session in stored {
        for line in &session.lines {
            *times.entry(Entry::read(line).unwrap().id).or_default() += 1;
        }
        let head = chain::head(session.session, session.lines.iter().map(String::as_str));
        let count = usize::try_from(session.count).unwrap();
        broken += usize::from(head.as_str() != session.head || count != session.lines.len());
    }
    Verdict {
        lost: acknowledged.iter().filter(|id| !times.contains_key(id)).count(),
        doubled: times.values().filter(|times| **times > 1).count(),
        broken,
    }
}

/// The judge must see each fault that it is there to see.
#[test]
fn the_judge_sees_what_is_lost_doubled_or_broken() {
    let line = |n: u32| {
        format!(
            "{{\"act\":{{\"kind\":\"view_blocked\"}},\"by\":\"u-1\",\"dev\":\"d\",\"err\":0,\
             \"id\":\"00000000-0000-7000-8000-00000000000{n}\",\"kind\":\"observation\",\"mono\":0,\"off\":0,\"recv\":0,\
             \"run\":\"r\",\"seq\":{n},\"v\":1,\"wall\":0}}"
        )
    };
    let session = Uuid::from_u128(9);
    let of = |lines: Vec<String>| Stored {
        session,
        count: i64::try_from(lines.len()).unwrap(),
        head: chain::head(session, lines.iter().map(String::as_str)).to_string(),
        lines,
    };
    let id = |n: u128| Uuid::from_u128(0x7000_8000_0000_0000_0000 + n);
    assert_eq!(judge(&[id(1), id(2)], &[of(vec![line(1), line(2)])]), Verdict::default());
    assert_eq!(judge(&[id(1), id(3)], &[of(vec![line(1)])]), Verdict { lost: 1, ..Verdict::default() });
    assert_eq!(judge(&[id(1)], &[of(vec![line(1), line(1)])]), Verdict { doubled: 1, ..Verdict::default() });
    let mut swapped = of(vec![line(1), line(2)]);
    swapped.lines.swap(0, 1);
    assert_eq!(judge(&[], &[swapped]), Verdict { broken: 1, ..Verdict::default() });
    let mut shorter = of(vec![line(1), line(2)]);
    shorter.lines.pop();
    assert_eq!(judge(&[id(2)], &[shorter]), Verdict { lost: 1, broken: 1, ..Verdict::default() });
}
