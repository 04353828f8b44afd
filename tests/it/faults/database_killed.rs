//! Every process of the database server is killed under load, again and again, and the service carries on by itself.

use super::judge::Verdict;
use super::rig::Rig;
use baywitness::clock::Clock;
use baywitness::store::migrate;
use baywitness::web::{self, App, Settings};
use std::time::Duration;
use tokio::sync::watch;
use uuid::Uuid;

const KILLS: u32 = 3;

/// The service in this process, on the rig's database.
fn serve(rig: &Rig) -> watch::Receiver<String> {
    let address = rig.runtime.block_on(async {
        let store = migrate::open(&rig.connect).await.unwrap();
        let app = App::new(store, Clock::system(), Settings::default()).unwrap();
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = format!("http://{}", listener.local_addr().unwrap());
        tokio::spawn(web::serve(listener, app, std::future::pending()));
        address
    });
    watch::channel(address).1
}

/// Works through so many kills; answers what was acknowledged.
fn killed(rig: &mut Rig, kills: u32) -> Vec<Uuid> {
    let address = serve(rig);
    let work = rig.work(&address);
    for _ in 0..kills {
        work.more(80, Duration::from_secs(20));
        std::thread::sleep(Duration::from_millis(rand::random_range(0..150)));
        rig.kill_database();
        rig.start_database();
        let served = work.more(8, Duration::from_secs(20));
        assert!(served < Duration::from_secs(10), "served again only after {served:?}");
    }
    work.finish(&rig.runtime)
}

#[test]
fn what_was_acknowledged_is_there_once_after_the_database_was_killed() {
    let mut rig = Rig::new(&[]);
    let acknowledged = killed(&mut rig, KILLS);
    assert!(acknowledged.len() >= 240, "{}", acknowledged.len());
    assert_eq!(rig.judge(&acknowledged), Verdict::default(), "of {}", acknowledged.len());
}

/// Settings of a server that acknowledges what it has not written. Whoever writes a page of a table writes the log up to
/// it, so nobody does that in the background here.
const FORGETFUL: [(&str, &str); 5] = [
    ("synchronous_commit", "off"),
    ("wal_writer_delay", "10s"),
    ("wal_writer_flush_after", "1GB"),
    ("bgwriter_lru_maxpages", "0"),
    ("autovacuum", "off"),
];

/// The control: a server that acknowledges before it has written loses what it acknowledged, and the judge says so.
/// (The service refuses to serve from such a server; the tests may.)
#[test]
fn a_forgetful_server_is_seen_to_lose() {
    // The writer of the log may come by just before the kill; that it does so every time would be another matter.
    let lost = (0..4).any(|_| {
        let mut rig = Rig::new(&FORGETFUL);
        let acknowledged = killed(&mut rig, 1);
        rig.judge(&acknowledged).lost > 0
    });
    assert!(lost, "this rig would not see a loss");
}
