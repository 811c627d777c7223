//! Hazards found: each is said at once, told and signed for, and asked after again once a repair may have cured it.

use crate::ask::{About, Ask, Sort, Wants};
use crate::session::{Next, Session};
use book::{HazardKind, Outcome};
use diagnosis::Evidence;
use machine::access::Hazard;
use machine::model::{Machine, Observed, ProofHow};

/// Something dangerous that the facts of the call show.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Noticed {
    pub(crate) what: String,
    pub(crate) kind: HazardKind,
    pub(crate) dangerous: bool,
}

/// Says what a hazard asks.
pub(crate) fn next(s: &Session<'_, '_>) -> Option<Next> {
    let noticed = noticed(s);
    let untold = noticed.iter().position(|noticed| !s.now.hazards.iter().any(|(_, found)| found.what == noticed.what));
    if let Some(index) = untold {
        return Next::ask(tell(s, index, &noticed[index]));
    }
    if s.now.changes.is_empty() || s.now.way_out.is_some() {
        return None;
    }
    let count = s.now.changes.len();
    let open = s.now.hazards.iter().position(|(id, hazard)| {
        hazard.dangerous && hazard.action != danger::HazardAction::Mended && !s.now.did(&format!("gone/{count}/{id}"))
    })?;
    Next::ask(gone(s, open))
}

fn tell(s: &Session<'_, '_>, index: usize, noticed: &Noticed) -> Ask {
    let say = format!("A hazard: {}. Tell the customer now. Disconnect or tag it. Who signs?", noticed.what);
    let ask = Ask::new(About::Hazard(index), s.stage(), say, Wants::Hazard);
    let kind = if noticed.kind == HazardKind::WaterByElectricity { Hazard::Water } else { Hazard::Shock };
    let ask = ask.caution([danger::caution(kind, false)]);
    if noticed.dangerous {
        ask.line(Sort::Notice, "nothing is switched on again until it is mended; it may not be left as it is")
    } else {
        ask
    }
}

fn gone(s: &Session<'_, '_>, index: usize) -> Ask {
    let what = s.now.hazards.get(index).map_or("", |(_, hazard)| hazard.what.as_str());
    let say = format!("Is this hazard gone with the repair: {what}?");
    let machine = s.machine();
    let frame = machine.supply.frame;
    let legs = machine.supply.block.iter().filter(|(of, _)| danger_leg(*of)).map(|(_, at)| machine[*at].name.clone());
    let names = legs.collect::<Vec<_>>().join(" and ");
    Ask::new(About::HazardGone(index), s.stage(), say, Wants::YesNo)
        .line(Sort::Do, format!("see it, and measure {names} against {} dead before you say yes", machine[frame].name))
}

fn danger_leg(of: machine::model::Conductor) -> bool {
    matches!(of, machine::model::Conductor::Leg1 | machine::model::Conductor::Leg2)
}

/// Lists what the facts show, in the order in which it was noticed.
pub(crate) fn noticed(s: &Session<'_, '_>) -> Vec<Noticed> {
    let machine = s.machine();
    let mut all: Vec<Noticed> = Vec::new();
    for item in &s.now.evidence {
        let found = match item {
            Evidence::Reported(seen) | Evidence::Answered(seen) | Evidence::Watched(seen) => {
                let tingles = matches!(machine[seen.what].of, Observed::Tingles) && seen.value == 1;
                tingles.then(|| shock("the frame tingles"))
            }
            Evidence::Looked { part, damage: true } => damaged(machine, *part),
            _ => None,
        };
        all.extend(found.filter(|found| !all.contains(found)));
    }
    for (index, proof) in machine.proofs.iter().enumerate() {
        let failed = s.now.proofs.get(&proof.id) == Some(&Outcome::Failed);
        if failed && matches!(proof.how, ProofHow::Ohms { .. }) && machine.proofs.get(index).is_some() {
            all.push(shock(&format!("{}: does not hold", proof.say)));
        }
    }
    all.extend(s.now.dangers.iter().map(|what| Noticed {
        what: what.clone(),
        kind: HazardKind::Other,
        dangerous: true,
    }));
    if let Some(book::Verdict::Bad { what }) = &s.now.supply {
        all.push(Noticed { what: format!("the supply: {what}"), kind: HazardKind::Shock, dangerous: false });
    }
    all
}

fn shock(what: &str) -> Noticed {
    Noticed { what: what.to_owned(), kind: HazardKind::Shock, dangerous: true }
}

/// A look that shows what can hurt: every way the part fails that can be seen is dangerous.
fn damaged(machine: &Machine, part: machine::model::PartId) -> Option<Noticed> {
    let seen: Vec<_> = machine.faults_of(part).into_iter().filter(|fault| machine[*fault].visible > 0.0).collect();
    if seen.is_empty() || seen.iter().any(|fault| !machine[*fault].dangerous) {
        return None;
    }
    let says: Vec<&str> = seen.iter().map(|fault| machine[*fault].say.as_str()).collect();
    let what = format!("the {} looks damaged ({})", machine[part].name, says.join(", "));
    Some(Noticed { what, kind: HazardKind::Fire, dangerous: true })
}
