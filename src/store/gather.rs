//! Batches that arrive at the same time share a commit, which is what appending waits for. Each is acknowledged only
//! after that commit, and each centre's batches have a transaction of their own, which sees that centre alone.

use super::append::{self, AfterSigning, Batch, Outcome, Taken};
use super::{CentreId, StoreError, begin, belong_to, sessions};
use sqlx::pool::PoolConnection;
use sqlx::{Connection, PgPool, Postgres};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc, oneshot};
use tokio::time::timeout;

/// Transactions at once. Each session has its writer, so that no two writers want the same row.
const WRITERS: usize = 2;
/// Most batches that share a commit.
const MOST: usize = 64;
/// How often a writer lets others run before it makes do with what has come: some tens of microseconds in all.
const PATIENCE: usize = 32;
/// Batches that wait for a writer; those that come on top of them wait to be let in.
const WAITING: usize = 256;
/// Batches that may wait at once for a session that somebody else holds, and that may be tried again at once. Each keeps
/// a connection, and the others must go on.
const HELD_UP: usize = 4;

/// How long a writer without work keeps its connection. While it has work it need not ask the pool, which first makes
/// sure that a connection still lives.
const KEEP: Duration = Duration::from_millis(50);

/// The way in for batches.
#[derive(Debug, Clone)]
pub(super) struct Gather([mpsc::Sender<Job>; WRITERS]);

/// A batch and who waits for its answer.
#[derive(Debug)]
struct Job {
    centre: CentreId,
    batch: Batch,
    answer: oneshot::Sender<Result<Option<Taken>, StoreError>>,
}

/// The connection that a writer keeps while it has work.
type Kept = Option<PoolConnection<Postgres>>;

/// What a writer works with.
#[derive(Clone)]
struct Writer {
    pool: PgPool,
    held_up: Arc<Semaphore>,
    again: Arc<Semaphore>,
}

impl Gather {
    /// Starts the writers; they end when the last handle is gone.
    pub(super) fn start(pool: &PgPool) -> Self {
        let (held_up, again) = (Arc::new(Semaphore::new(HELD_UP)), Arc::new(Semaphore::new(HELD_UP)));
        let writer = Writer { pool: pool.clone(), held_up, again };
        Self(std::array::from_fn(|_| {
            let (sender, jobs) = mpsc::channel(WAITING);
            tokio::spawn(writer.clone().run(jobs));
            sender
        }))
    }

    /// Hands a batch over and waits for its commit.
    pub(super) async fn take(&self, centre: &CentreId, batch: Batch) -> Result<Option<Taken>, StoreError> {
        let (answer, taken) = oneshot::channel();
        let session = batch.session.0;
        let job = Job { centre: centre.clone(), batch, answer };
        let gone = StoreError::Busy("the service is stopping");
        let writer = usize::from(session.as_bytes()[15]) % WRITERS;
        if self.0[writer].send(job).await.is_err() {
            return Err(gone);
        }
        taken.await.unwrap_or(Err(gone))
    }
}

impl Writer {
    async fn run(self, mut waiting: mpsc::Receiver<Job>) {
        let mut jobs = Vec::with_capacity(MOST);
        let (mut connection, mut last) = (None, 0);
        loop {
            let kept = timeout(KEEP, waiting.recv_many(&mut jobs, MOST)).await;
            let got = match kept {
                Ok(got) => got,
                Err(_) => {
                    connection = None;
                    waiting.recv_many(&mut jobs, MOST).await
                }
            };
            if got == 0 {
                return;
            }
            gather_more(&mut waiting, &mut jobs, last).await;
            last = jobs.len();
            while let Some(centre) = jobs.first().map(|job| job.centre.clone()) {
                let (own, others) = jobs.into_iter().partition(|job: &Job| job.centre == centre);
                jobs = others;
                self.write(&mut connection, &centre, own).await;
            }
        }
    }

    /// Takes the batches of one centre. Where the transaction fails, each is tried again by itself, so that one bad row
    /// or one slow session costs the others no more than that; what is for a session that somebody else holds waits
    /// aside.
    async fn write(&self, connection: &mut Kept, centre: &CentreId, mut jobs: Vec<Job>) {
        let why = match self.commit(connection, centre, &jobs).await {
            Ok(outcomes) => {
                for (job, outcome) in jobs.into_iter().zip(outcomes) {
                    match outcome {
                        Outcome::Taken(taken) => job.settle(Ok(Some(taken))),
                        Outcome::Nowhere => job.settle(Ok(None)),
                        Outcome::Held => self.wait_aside(job),
                    }
                }
                return;
            }
            Err(why) => why,
        };
        match (why, jobs.pop()) {
            (why, Some(job)) if jobs.is_empty() => job.settle(Err(why)),
            // Nobody answers: trying each by itself would only make them wait longer for the same.
            (StoreError::Database(sqlx::Error::Io(_) | sqlx::Error::PoolTimedOut | sqlx::Error::PoolClosed), last) => {
                let busy = || Err(StoreError::Busy("the database cannot be reached"));
                jobs.into_iter().chain(last).for_each(|job| job.settle(busy()));
            }
            (_, last) => jobs.into_iter().chain(last).for_each(|job| self.try_again(job)),
        }
    }

    /// Takes batches in one transaction. Where it fails its connection is given up with it.
    async fn commit(&self, kept: &mut Kept, centre: &CentreId, jobs: &[Job]) -> Result<Vec<Outcome>, StoreError> {
        let batches: Vec<&Batch> = jobs.iter().map(|job| &job.batch).collect();
        let mut connection = match kept.take() {
            Some(connection) => connection,
            None => self.pool.acquire().await?,
        };
        let mut tx = connection.begin().await?;
        belong_to(&mut tx, centre).await?;
        let taken = append::append_all(&mut tx, centre, &batches).await?;
        tx.commit().await?;
        *kept = Some(connection);
        Ok(taken)
    }

    /// Takes a batch whose session somebody else holds in a task of its own, waiting as long as the database lets it.
    fn wait_aside(&self, job: Job) {
        let Ok(permit) = Arc::clone(&self.held_up).try_acquire_owned() else {
            job.settle(Err(StoreError::Busy("too many wait for a session that is held")));
            return;
        };
        self.take_alone(job, permit);
    }

    /// Takes a batch in a task of its own, when it is its turn.
    fn try_again(&self, job: Job) {
        let writer = self.clone();
        tokio::spawn(async move {
            // Never closed; were it, the job falls away and whoever waits is told to try again.
            if let Ok(permit) = Arc::clone(&writer.again).acquire_owned().await {
                writer.take_alone(job, permit);
            }
        });
    }

    fn take_alone(&self, job: Job, permit: OwnedSemaphorePermit) {
        let pool = self.pool.clone();
        tokio::spawn(async move {
            let taken = one(&pool, &job).await;
            drop(permit);
            job.settle(taken);
        });
    }
}

/// Those who were answered a moment ago are likely to be about to send again, one after the other: lets others run, a few
/// times and without a clock, until as many have come as the last time.
async fn gather_more(waiting: &mut mpsc::Receiver<Job>, jobs: &mut Vec<Job>, last: usize) {
    for _ in 0..PATIENCE {
        while jobs.len() < MOST
            && let Ok(job) = waiting.try_recv()
        {
            jobs.push(job);
        }
        if jobs.len() >= last {
            return;
        }
        tokio::task::yield_now().await;
    }
}

impl Job {
    /// Answers; whoever asked may have gone.
    fn settle(self, taken: Result<Option<Taken>, StoreError>) {
        let _ = self.answer.send(taken);
    }
}

async fn one(pool: &PgPool, job: &Job) -> Result<Option<Taken>, StoreError> {
    let mut tx = begin(pool, &job.centre).await?;
    if sessions::hold(&mut tx, &job.centre, job.batch.session).await?.is_none() {
        return Ok(None);
    }
    let taken = append::append_one(&mut tx, &job.centre, &job.batch, AfterSigning::Late).await?;
    tx.commit().await?;
    Ok(taken)
}
