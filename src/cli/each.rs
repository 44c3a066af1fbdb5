//! Passes through sessions of the book, and says which of them could not be read.

use super::Outcome;
use super::failure::Failure;
use crate::book::Book;
use crate::session::{Session, SessionMeta};
use crate::warning::Warning;

/// What was made of sessions.
pub struct Each<T> {
    /// One a session, in their order.
    pub made: Vec<T>,
    /// The sessions whose channels could not be read, by place, and why.
    pub damaged: Vec<(usize, String)>,
}

impl<T> Each<T> {
    /// Nothing of no session.
    pub fn none() -> Self {
        Self {
            made: Vec::new(),
            damaged: Vec::new(),
        }
    }

    /// A warning for each session whose channels could not be read.
    pub fn warnings(&self, metas: &[SessionMeta]) -> Vec<Warning> {
        let one = |(i, why): &(usize, String)| {
            Warning::caution(
                "channels-damaged",
                format!(
                    "{} is left out: {why}; heatbook verify looks at the whole book",
                    metas[*i].id
                ),
            )
        };
        self.damaged.iter().map(one).collect()
    }

    /// What was made of the sessions that could be read.
    pub fn whole<'a>(
        &'a self,
        metas: &'a [SessionMeta],
    ) -> impl Iterator<Item = (&'a SessionMeta, &'a T)> {
        let pairs = metas.iter().zip(&self.made).enumerate();
        pairs
            .filter(|(i, _)| self.damaged.iter().all(|(damaged, _)| damaged != i))
            .map(|(_, pair)| pair)
    }
}

/// How a verb ends that asked for `asked` sessions, of which those that `damage` names could not be
/// read: something could not be done, or nothing.
pub fn ended(asked: usize, damage: &[Warning]) -> Result<Outcome, Failure> {
    match damage {
        [] => Ok(Outcome::Done),
        [first, ..] if damage.len() == asked => Err(Failure::new(
            format!("no session can be read; the first: {}", first.message),
            "heatbook verify says what is wrong; restore the book from a copy",
        )),
        _ => Ok(Outcome::Partly),
    }
}

/// What `f` makes of each session, on all cores, a few in memory at a time. One whose channels are
/// damaged is taken as one without channels.
pub fn each<T: Send>(
    book: &Book,
    metas: &[SessionMeta],
    f: impl Fn(Session) -> T + Sync,
) -> Result<Each<T>, Failure> {
    let mut each = Each {
        made: Vec::with_capacity(metas.len()),
        damaged: Vec::new(),
    };
    for (i, read) in book.map(metas, &f)?.into_iter().enumerate() {
        each.made.push(match read {
            Ok(made) => made,
            Err(error) => {
                each.damaged.push((i, error.to_string()));
                f(Session::without_channels(metas[i].clone()))
            }
        });
    }
    Ok(each)
}

/// Sessions in steps of `step_s`, which is all that a comparison or a plan looks at.
pub fn averaged(book: &Book, metas: &[SessionMeta], step_s: f64) -> Result<Each<Session>, Failure> {
    let read = each(book, metas, |session| session.averaged(step_s))?;
    let made = read.made.into_iter().collect::<Result<_, _>>();
    Ok(Each {
        made: made.map_err(|e| {
            Failure::new(
                format!("the channels cannot be averaged: {e}"),
                "this is a defect of the program: please report it",
            )
        })?,
        damaged: read.damaged,
    })
}

/// The sessions with these ids, in this order; all where none is named.
pub fn named(book: &Book, ids: &[String]) -> Result<Vec<SessionMeta>, Failure> {
    if ids.is_empty() {
        return Ok(book.sessions()?);
    }
    ids.iter().map(|id| Ok(book.meta(id)?)).collect()
}
