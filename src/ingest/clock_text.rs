//! Times of day, and minutes and seconds, as loggers write them.

/// Reads `hh:mm`, `hh:mm:ss`, `hh:mm:ss.fff` (or `,fff`, or `:fff`), perhaps with AM or PM.
pub(super) fn parse_clock(text: &str) -> Option<f64> {
    let (text, noon) = split_noon(text.trim());
    let [hour, minute, second] = clock_parts(text)?;
    let hour = match noon {
        None => hour,
        Some(_) if !(1.0..=12.0).contains(&hour) => return None,
        Some(pm) => hour % 12.0 + if pm { 12.0 } else { 0.0 },
    };
    (hour < 25.0 && minute < 60.0 && second < 61.0)
        .then_some(hour * 3600.0 + minute * 60.0 + second)
}

/// Parts `10:00 AM`, `10:00 p.m.` into the clock and whether it is after noon.
pub(super) fn split_noon(text: &str) -> (&str, Option<bool>) {
    let marks = ["am", "a.m.", "a. m.", "pm", "p.m.", "p. m."];
    for (mark, pm) in marks
        .into_iter()
        .zip([false, false, false, true, true, true])
    {
        let at = text.len().saturating_sub(mark.len());
        if text
            .get(at..)
            .is_some_and(|end| end.eq_ignore_ascii_case(mark))
        {
            return (text[..at].trim_end(), Some(pm));
        }
    }
    (text, None)
}

/// Hours, minutes, seconds of a text with colons.
fn clock_parts(text: &str) -> Option<[f64; 3]> {
    let parts: Vec<&str> = text.split(':').collect();
    let whole = |part: &str| {
        let plain = (1..=2).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        plain.then(|| part.parse::<f64>().ok()).flatten()
    };
    match parts.as_slice() {
        [hour, minute] => Some([whole(hour)?, whole(minute)?, 0.0]),
        [hour, minute, second] => Some([whole(hour)?, whole(minute)?, decimal(second)?]),
        [hour, minute, second, part] if (2..=3).contains(&part.len()) => {
            let parts: u16 = part.parse().ok()?;
            let of = if part.len() == 3 { 1000.0 } else { 100.0 };
            Some([
                whole(hour)?,
                whole(minute)?,
                whole(second)? + f64::from(parts) / of,
            ])
        }
        _ => None,
    }
}

/// Seconds with either decimal mark.
fn decimal(text: &str) -> Option<f64> {
    let plain = text.len() <= 14
        && text.starts_with(|c: char| c.is_ascii_digit())
        && text
            .bytes()
            .all(|b| b.is_ascii_digit() || b == b'.' || b == b',');
    if !plain {
        return None;
    }
    if text.contains(',') {
        text.replace(',', ".").parse().ok()
    } else {
        text.parse().ok()
    }
}

/// Reads `mm:ss` or `mm:ss.fff`, in seconds.
pub(super) fn parse_minutes(text: &str) -> Option<f64> {
    let (minutes, seconds) = text.trim().split_once(':')?;
    let whole = (1..=4).contains(&minutes.len()) && minutes.bytes().all(|b| b.is_ascii_digit());
    let seconds = decimal(seconds).filter(|s| *s < 60.0)?;
    whole
        .then(|| minutes.parse::<f64>().ok())
        .flatten()
        .map(|m| m * 60.0 + seconds)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clocks_are_read() {
        for (text, seconds) in [
            ("10:00:01.5", Some(36001.5)),
            ("10:00:01,25", Some(36001.25)),
            ("10:00:01:250", Some(36001.25)),
            ("10:30", Some(37800.0)),
            ("12:00:00 AM", Some(0.0)),
            ("1:00:00 PM", Some(46800.0)),
            ("1:00:00 p.m.", Some(46800.0)),
            ("1:00:00 p. m.", Some(46800.0)),
            ("10:00:01:25", Some(36001.25)),
            ("25:61:00", None),
            ("10", None),
            ("::", None),
        ] {
            assert_eq!(parse_clock(text), seconds, "{text}");
        }
        assert_eq!(parse_minutes("61:02.5"), Some(3662.5));
    }
}
