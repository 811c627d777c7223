//! Numbers of papers: one gapless series for each device that issues them, so that two phones without a signal never give the
//! same number.

use book::{Body, DeviceId, Event, JobFact, PaperIssued};

/// Gives the next number of a device: one more than its papers, for none is ever taken out.
#[must_use]
pub fn next_number(events: &[Event], device: DeviceId) -> u64 {
    papers(events).filter(|(event, _)| event.id().device() == device).map(|(_, paper)| paper.number).max().unwrap_or(0)
        + 1
}

/// Says a number as it stands on paper: the beginning of the device's name, then the count.
#[must_use]
pub fn say_number(device: DeviceId, number: u64) -> String {
    let name: String = device.to_string().chars().take(4).collect();
    format!("{}-{number:05}", name.to_uppercase())
}

/// Lists the numbers that a series lacks or has twice, by device: none, unless a book was tampered with or lost events.
#[must_use]
pub fn faults(events: &[Event]) -> Vec<String> {
    let mut said = Vec::new();
    let mut devices: Vec<DeviceId> = papers(events).map(|(event, _)| event.id().device()).collect();
    devices.sort_unstable();
    devices.dedup();
    for device in devices {
        let own = papers(events).filter(|(event, _)| event.id().device() == device);
        let mut numbers: Vec<u64> = own.map(|(_, paper)| paper.number).collect();
        numbers.sort_unstable();
        let mut next = 1;
        for number in numbers {
            if number > next {
                said.push(format!("{} to {} are missing", say_number(device, next), say_number(device, number - 1)));
            } else if number < next {
                said.push(format!("{} was given twice", say_number(device, number)));
            }
            next = number + 1;
        }
    }
    said
}

fn papers(events: &[Event]) -> impl Iterator<Item = (&Event, &PaperIssued)> {
    events.iter().filter_map(|event| match event.body() {
        Body::Job { fact: JobFact::PaperIssued(paper), .. } => Some((event, paper.as_ref())),
        _ => None,
    })
}
