//! Batches that arrive at the same time share a commit, which is what appending waits for. Each is acknowledged only
//! after that commit, and each centre's batches have a transaction of their own, which sees that centre alone.

use super::append::{self, AfterSigning, Batch, Taken};
use super::{CentreId, StoreError, begin, sessions};
use sqlx::PgPool;
use std::sync::Arc;
use tokio::sync::{Mutex, OwnedSemaphorePermit, Semaphore, mpsc, oneshot};

/// Transactions at once: while one waits for its commit the next gathers.
const WRITERS: usize = 2;
/// Most batches that share a commit.
const MOST: usize = 64;
/// Batches that wait for a writer; those that come on top of them wait to be let in.
const WAITING: usize = 256;
/// Batches that may wait at once for a session that somebody else holds, and that may be tried again at once. Each keeps
/// a connection, and the others must go on.
const HELD_UP: usize = 4;

/// The way in for batches.
#[derive(Debug, Clone)]
pub(super) struct Gather(mpsc::Sender<Job>);

/// A batch and who waits for its answer.
#[derive(Debug)]
struct Job {
    centre: CentreId,
    batch: Batch,
    answer: oneshot::Sender<Result<Option<Taken>, StoreError>>,
}

/// What a writer works with.
#[derive(Clone)]
struct Writer {
    pool: PgPool,
    jobs: Arc<Mutex<mpsc::Receiver<Job>>>,
    held_up: Arc<Semaphore>,
    again: Arc<Semaphore>,
}

impl Gather {
    /// Starts the writers; they end when the last handle is gone.
    pub(super) fn start(pool: &PgPool) -> Self {
        let (sender, jobs) = mpsc::channel(WAITING);
        let (held_up, again) = (Arc::new(Semaphore::new(HELD_UP)), Arc::new(Semaphore::new(HELD_UP)));
        let writer = Writer { pool: pool.clone(), jobs: Arc::new(Mutex::new(jobs)), held_up, again };
        for _ in 0..WRITERS {
            tokio::spawn(writer.clone().run());
        }
        Self(sender)
    }

    /// Hands a batch over and waits for its commit.
    pub(super) async fn take(&self, centre: &CentreId, batch: Batch) -> Result<Option<Taken>, StoreError> {
        let (answer, taken) = oneshot::channel();
        let job = Job { centre: centre.clone(), batch, answer };
        let gone = StoreError::Busy("the service is stopping");
        if self.0.send(job).await.is_err() {
            return Err(gone);
        }
        taken.await.unwrap_or(Err(gone))
    }
}

impl Writer {
    async fn run(self) {
        let mut jobs = Vec::with_capacity(MOST);
        loop {
            if self.jobs.lock().await.recv_many(&mut jobs, MOST).await == 0 {
                return;
            }
            while let Some(centre) = jobs.first().map(|job| job.centre.clone()) {
                let (own, others) = jobs.into_iter().partition(|job: &Job| job.centre == centre);
                jobs = others;
                self.write(&centre, own).await;
            }
        }
    }

    /// Takes the batches of one centre. Where the transaction fails, each is tried again by itself, so that one bad row
    /// or one slow session costs the others no more than that; what is for a session that somebody else holds waits
    /// aside.
    async fn write(&self, centre: &CentreId, mut jobs: Vec<Job>) {
        let why = match self.commit(centre, &jobs).await {
            Ok(taken) => {
                for (job, taken) in jobs.into_iter().zip(taken) {
                    match taken {
                        Some(taken) => job.settle(Ok(Some(taken))),
                        None => self.wait_aside(job),
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

    async fn commit(&self, centre: &CentreId, jobs: &[Job]) -> Result<Vec<Option<Taken>>, StoreError> {
        let batches: Vec<&Batch> = jobs.iter().map(|job| &job.batch).collect();
        let mut tx = begin(&self.pool, centre).await?;
        let taken = append::append_all(&mut tx, centre, &batches).await?;
        tx.commit().await?;
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
