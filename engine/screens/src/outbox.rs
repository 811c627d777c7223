//! What is owed to the book: facts in the order in which they are to be written, and what is being made durable now.

use crate::durable::Durable;
use book::{Body, Event, Key, KeyId, Pen, SealedRecord, ZonedTime};
use std::collections::VecDeque;

/// Facts that are owed.
#[derive(Debug)]
pub(crate) struct Outbox {
    pen: Pen,
    /// What is to be written next, in order; facts that stand together are written together, all or none.
    queue: VecDeque<Vec<Body>>,
    /// What is being made durable, with the pen as it is afterwards.
    writing: Option<(Pen, Durable)>,
}

impl Outbox {
    pub(crate) fn of(pen: Pen) -> Self {
        Self { pen, queue: VecDeque::new(), writing: None }
    }

    pub(crate) fn push(&mut self, body: Body) {
        self.push_all(vec![body]);
    }

    /// Owes facts of which all or none count.
    pub(crate) fn push_all(&mut self, bodies: Vec<Body>) {
        if !bodies.is_empty() {
            self.queue.push_back(bodies);
        }
    }

    /// Takes what is to be written next.
    pub(crate) fn next(&mut self) -> Option<Vec<Body>> {
        self.queue.pop_front()
    }

    /// Writes facts with the keys and records that they speak of: all or none.
    pub(crate) fn write(
        &mut self,
        at: &ZonedTime,
        bodies: &[Body],
        (keys, records): (Vec<(KeyId, Key)>, Vec<SealedRecord>),
    ) -> Result<Durable, String> {
        let mut pen = self.pen.clone();
        let events: Result<Vec<Event>, _> = bodies.iter().map(|body| pen.write(at, body)).collect();
        let events = events.map_err(|error| format!("a fact cannot be written: {error}"))?;
        let durable = Durable { keys, records, events };
        self.writing = Some((pen, durable.clone()));
        Ok(durable)
    }

    /// Hears that what was written is durable, and gives it.
    pub(crate) fn kept(&mut self) -> Option<Durable> {
        let (pen, durable) = self.writing.take()?;
        self.pen = pen;
        Some(durable)
    }

    /// Hears that it could not be made durable: nothing of it counts, nor what was to follow.
    pub(crate) fn not_kept(&mut self) {
        self.writing = None;
        self.queue.clear();
    }
}
