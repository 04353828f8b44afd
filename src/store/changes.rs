//! Who watches a session is told when something is added to it, whichever node added it: one listener for each process
//! hears what every append says and passes it on.

use super::{CentreId, SessionId, Store, StoreError};
use sqlx::postgres::{PgListener, PgPoolOptions};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{broadcast, watch};
use uuid::Uuid;

/// Where appends say which session they added to: the centre's code and the session's identifier.
const CHANNEL: &str = "baywitness_sessions";
/// What a watcher may fall behind before it is told to look afresh at everything.
const BACKLOG: usize = 256;
/// The wait before a lost connection is tried again.
const PAUSE: Duration = Duration::from_millis(500);

/// What a watcher is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// Something was added to this session.
    Of(CentreId, SessionId),
    /// Something may have been missed: look afresh.
    Anything,
}

/// Passes on what the listener hears.
#[derive(Debug, Clone)]
pub struct Changes {
    heard: broadcast::Sender<Change>,
    stop: Arc<watch::Sender<bool>>,
}

/// What one watcher hears.
#[derive(Debug)]
pub struct Watching {
    heard: broadcast::Receiver<Change>,
    stop: watch::Receiver<bool>,
}

impl Changes {
    /// Starts the listener, on a connection of its own. It ends with [`Changes::stop`].
    pub fn listen(store: &Store) -> Self {
        let (heard, _) = broadcast::channel(BACKLOG);
        let (stop, stopped) = watch::channel(false);
        let stop = Arc::new(stop);
        tokio::spawn(listen(store.clone(), heard.clone(), stopped));
        Self { heard, stop }
    }

    /// Starts to watch.
    pub fn watch(&self) -> Watching {
        Watching { heard: self.heard.subscribe(), stop: self.stop.subscribe() }
    }

    /// Ends the listener and everybody's watching.
    pub fn stop(&self) {
        self.stop.send_replace(true);
    }
}

impl Watching {
    /// The next change that concerns this session; `None` once watching is over.
    pub async fn next(&mut self, centre: &CentreId, session: SessionId) -> Option<()> {
        loop {
            let heard = tokio::select! {
                heard = self.heard.recv() => heard,
                _ = self.stop.wait_for(|stop| *stop) => return None,
            };
            match heard {
                Ok(Change::Of(of_centre, of)) if of_centre != *centre || of != session => {}
                Ok(_) | Err(broadcast::error::RecvError::Lagged(_)) => return Some(()),
                Err(broadcast::error::RecvError::Closed) => return None,
            }
        }
    }
}

/// Listens until told to stop, and again after each loss of the connection. What was said meanwhile is lost, so
/// everybody then looks afresh.
async fn listen(store: Store, heard: broadcast::Sender<Change>, mut stop: watch::Receiver<bool>) {
    while !*stop.borrow() {
        let ended = tokio::select! {
            ended = hear(&store, &heard) => ended,
            _ = stop.wait_for(|stop| *stop) => return,
        };
        if let Err(why) = ended {
            tracing::debug!(%why, "the listener lost its connection");
        }
        tokio::select! {
            () = tokio::time::sleep(PAUSE) => {}
            _ = stop.wait_for(|stop| *stop) => return,
        }
    }
}

/// Passes on what one connection hears, until it is lost. The connection is not one of those that requests wait for.
async fn hear(store: &Store, heard: &broadcast::Sender<Change>) -> Result<(), StoreError> {
    let options = (*store.pool.connect_options()).clone();
    let own =
        PgPoolOptions::new().max_connections(1).acquire_timeout(Duration::from_secs(4)).connect_lazy_with(options);
    let mut listener = PgListener::connect_with(&own).await?;
    listener.listen(CHANNEL).await?;
    tell(heard, Change::Anything);
    // `None` says that the connection was lost; it is made anew here and not within, so that nobody misses it.
    while let Some(said) = listener.try_recv().await? {
        if let Some(change) = read(said.payload()) {
            tell(heard, change);
        }
    }
    Ok(())
}

/// Tells whoever watches; that nobody does is no fault.
fn tell(heard: &broadcast::Sender<Change>, change: Change) {
    let _ = heard.send(change);
}

fn read(payload: &str) -> Option<Change> {
    let (centre, session) = payload.split_once(' ')?;
    Some(Change::Of(CentreId::new(centre)?, SessionId(Uuid::try_parse(session).ok()?)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_a_session_is_not_passed_on() {
        let id = Uuid::from_u128(7);
        let expected = Change::Of(CentreId::new("northgate").unwrap(), SessionId(id));
        assert_eq!(read(&format!("northgate {id}")), Some(expected));
        for payload in ["", "northgate", "north gate 7", &format!("NORTHGATE {id}"), &format!("{id} northgate")] {
            assert_eq!(read(payload), None, "{payload}");
        }
    }
}
