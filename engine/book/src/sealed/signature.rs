//! A name with the strokes of a hand beside it, as it stands in a sealed record.
//!
//! Refuses to know who signed what.

use core::fmt;

use super::{Content, SealError};

/// Strokes of a hand: each the points it passes, in a field of [`Strokes::FIELD`], `x` to the right and `y` downwards.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Strokes(Vec<Vec<(u16, u16)>>);

/// Why strokes cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadStrokes {
    /// Which stroke, from 1; 0 for all of them.
    pub stroke: usize,
    /// Why, in words.
    pub why: String,
}

impl fmt::Display for BadStrokes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.stroke {
            0 => write!(f, "signature: {}", self.why),
            stroke => write!(f, "signature, stroke {stroke}: {}", self.why),
        }
    }
}

impl std::error::Error for BadStrokes {}

impl Strokes {
    /// Width and height of the field that is written in; strokes are whole numbers within it.
    pub const FIELD: (u16, u16) = (1000, 400);
    /// Most points of a signature, over all strokes.
    pub const MOST_POINTS: usize = 4000;

    /// Reads strokes as they are written: points `x,y` apart by spaces, strokes apart by `;`.
    ///
    /// # Errors
    /// [`BadStrokes`] names the stroke: no point, a point that is none or outside the field, too many of them.
    pub fn read(text: &str) -> Result<Self, BadStrokes> {
        let stroke = |(at, text): (usize, &str)| {
            let points: Result<Vec<(u16, u16)>, String> = text.split_whitespace().map(point).collect();
            match points {
                Ok(points) if points.is_empty() => {
                    Err(BadStrokes { stroke: at + 1, why: "no point; leave the stroke out".to_owned() })
                }
                Ok(points) => Ok(points),
                Err(why) => Err(BadStrokes { stroke: at + 1, why }),
            }
        };
        let strokes: Vec<Vec<(u16, u16)>> = text.split(';').enumerate().map(stroke).collect::<Result<_, _>>()?;
        if strokes.iter().map(Vec::len).sum::<usize>() > Self::MOST_POINTS {
            let why = format!("more than {} points; write it shorter", Self::MOST_POINTS);
            return Err(BadStrokes { stroke: 0, why });
        }
        Ok(Self(strokes))
    }

    /// Gives the strokes, each its points.
    pub fn each(&self) -> impl Iterator<Item = &[(u16, u16)]> {
        self.0.iter().map(Vec::as_slice)
    }
}

impl fmt::Display for Strokes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, stroke) in self.0.iter().enumerate() {
            f.write_str(if at == 0 { "" } else { ";" })?;
            for (at, (x, y)) in stroke.iter().enumerate() {
                write!(f, "{}{x},{y}", if at == 0 { "" } else { " " })?;
            }
        }
        Ok(())
    }
}

fn point(text: &str) -> Result<(u16, u16), String> {
    let of = |text: &str, most: u16| text.parse::<u16>().ok().filter(|at| *at <= most);
    let (width, height) = Strokes::FIELD;
    text.split_once(',')
        .and_then(|(x, y)| Some((of(x, width)?, of(y, height)?)))
        .ok_or_else(|| format!("`{text}` is no point of the field; write `x,y` up to {width},{height}"))
}

/// Who signed: the name, and the strokes where a hand wrote them.
#[derive(Clone, PartialEq, Eq)]
pub struct Signed {
    /// The name.
    pub name: String,
    /// The strokes; none where a name was typed or said.
    pub strokes: Option<Strokes>,
}

impl fmt::Debug for Signed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Signed(hidden)")
    }
}

impl Content {
    /// The bytes are a name and, after a line feed, the strokes of a hand.
    pub const SIGNATURE: &'static str = "signature";

    /// Takes a name with the strokes beside it; a name alone is text, as it was before there were strokes.
    #[must_use]
    pub fn signed(signed: &Signed) -> Self {
        let Some(strokes) = &signed.strokes else { return Self::text(&signed.name) };
        let name = signed.name.replace('\n', " ");
        Self { what: Self::SIGNATURE.to_owned(), bytes: format!("{name}\n{strokes}").into_bytes() }
    }

    /// Reads who signed.
    ///
    /// # Errors
    /// [`SealError::OtherContent`] if it is something else.
    pub fn to_signed(&self) -> Result<Signed, SealError> {
        let text = core::str::from_utf8(&self.bytes).map_err(|_| SealError::OtherContent)?;
        match self.what.as_str() {
            Self::TEXT => Ok(Signed { name: text.to_owned(), strokes: None }),
            Self::SIGNATURE => {
                let (name, strokes) = text.split_once('\n').ok_or(SealError::OtherContent)?;
                let strokes = Strokes::read(strokes).map_err(|_| SealError::OtherContent)?;
                Ok(Signed { name: name.to_owned(), strokes: Some(strokes) })
            }
            _ => Err(SealError::OtherContent),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

    use super::*;

    #[test]
    fn what_a_hand_wrote_is_read_as_it_was_written() {
        let text = "0,0 10,20 1000,400;5,5";
        let strokes = Strokes::read(text).unwrap();
        assert_eq!(strokes.to_string(), text);
        for strokes in [Some(strokes), None] {
            let signed = Signed { name: "Ada Example".to_owned(), strokes };
            let content = Content::from_plain(&Content::signed(&signed).to_plain()).unwrap();
            assert!(content.to_signed().unwrap() == signed);
        }
        assert!(Content::person(&super::super::Person::default()).unwrap().to_signed().is_err());
    }

    #[test]
    fn what_is_no_stroke_is_refused_with_its_place() {
        for (text, stroke) in [("", 1), ("1,1;", 2), ("1,1;2", 2), ("1,1 1001,2", 1), ("1,401", 1), ("-1,0", 1)] {
            let bad = Strokes::read(text).unwrap_err();
            assert_eq!(bad.stroke, stroke, "{text}: {bad}");
            assert!(bad.to_string().contains("stroke"));
        }
        let many = vec!["1,1"; Strokes::MOST_POINTS + 1].join(" ");
        assert!(Strokes::read(&many).unwrap_err().to_string().contains("write it shorter"));
    }
}
