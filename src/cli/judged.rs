//! Sessions against their limits, as the book keeps them.

use super::each::each;
use super::failure::Failure;
use super::kept;
use crate::book::Book;
use crate::limits::{HotDay, LimitRequest, SessionLimit, judge};
use crate::session::{Role, SessionMeta};
use crate::warning::Warning;

/// Under what answers to a request are kept.
fn settings(request: &LimitRequest) -> String {
    let LimitRequest {
        channel,
        limit_c,
        margin_k,
        hot_day,
    } = request;
    format!(
        "limits 2 {} {limit_c:?} {margin_k:?} {hot_day:?}",
        channel.name()
    )
}

/// What `limits` without flags asks.
pub fn usual() -> LimitRequest {
    LimitRequest {
        channel: Role::Coolant,
        limit_c: None,
        margin_k: None,
        hot_day: HotDay::default(),
    }
}

/// Keeps answers to the usual request.
pub fn keep_usual<'a>(
    book: &mut Book,
    answers: impl Iterator<Item = (&'a SessionMeta, &'a SessionLimit)>,
) -> Result<(), Failure> {
    kept::keep(book, &settings(&usual()), answers)
}

/// Each session against its limit, as kept or anew, and a warning for each that cannot be read.
pub fn judged(
    book: &mut Book,
    metas: &[SessionMeta],
    request: &LimitRequest,
    afresh: bool,
) -> Result<(Vec<SessionLimit>, Vec<Warning>), Failure> {
    let settings = settings(request);
    let known: Vec<Option<SessionLimit>> = match afresh {
        true => metas.iter().map(|_| None).collect(),
        false => kept::answers(book, metas, &settings)?,
    };
    let missing: Vec<SessionMeta> = (metas.iter().zip(&known))
        .filter(|(_, known)| known.is_none())
        .map(|(meta, _)| meta.clone())
        .collect();
    let mut read = each(book, &missing, |session| judge(&session, request))?;
    kept::keep(book, &settings, read.whole(&missing))?;
    for (i, why) in &read.damaged {
        read.made[*i].why = Some(why.clone());
    }
    let damage = read.warnings(&missing);
    let mut made = read.made.into_iter();
    let judged = known
        .into_iter()
        .filter_map(|known| known.or_else(|| made.next()));
    Ok((judged.collect(), damage))
}
