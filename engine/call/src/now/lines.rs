//! Lines of checklists and plain answers, and what each does to how the call stands: isolated, switched on, made safe,
//! set aside, stopped. Asks nothing.

use crate::now::Telephone;
use crate::now::{Goal, Now, WayOut};
use crate::stages::intake::COMES_AND_GOES;
use crate::steps::act_of;
use danger::{DeadFact, HazardAction, Isolator, Secured};
use diagnosis::{Evidence, Stirred};
use machine::model::Machine;
use prediction::Reading;
use repair::Act;

impl Now {
    pub(super) fn done(&mut self, machine: &Machine, step: &str, said: Option<&str>) {
        self.lines.insert(step.to_owned(), said.map(str::to_owned));
        let said = said.unwrap_or_default();
        match step {
            "isolate" => self.isolated(machine, said),
            "instead" => self.goal = act_of(machine, said).ok().flatten().map(|act| Goal { act, proposal: None }),
            "cannot-reach" => {
                self.out_of_reach.extend(said.split(',').filter_map(|name| machine.terminal(name.trim()).ok()));
                self.drop_goal(machine);
            }
            "opinion" => {
                let (part, times) = said.split_once(' ').unwrap_or((said, "3"));
                let times = times.parse().unwrap_or(3.0);
                self.evidence.extend(machine.part(part).map(|part| Evidence::Opinion { part, times }));
                self.goal = None;
            }
            "intake/settled" => self.telephone = Some(Telephone::Settled(said.to_owned())),
            "set-aside" => {
                self.set_aside.insert(said.to_owned());
                self.goal = None;
            }
            COMES_AND_GOES if !said.is_empty() => self.evidence.push(Evidence::ComesAndGoes(said == "comes-and-goes")),
            "moved" => {
                let moved = machine.part(said).map(|part| Evidence::Stirred(Stirred::Moved(part)));
                self.evidence.extend(moved);
                self.drop_goal(machine);
            }
            "ran-warm" => {
                self.evidence.push(Evidence::Stirred(Stirred::Warmed));
                self.drop_goal(machine);
            }
            "danger" => self.dangers.push(said.to_owned()),
            "intake/use" => self.uses.extend(machine.state(said).ok()),
            "disconnect" => {
                for (_, hazard) in self.hazards.iter_mut().filter(|(_, hazard)| hazard.is_open()) {
                    hazard.action = HazardAction::Disconnected;
                }
                self.way_out.get_or_insert(WayOut::Stopped("disconnected: a dangerous fault is open".to_owned()));
            }
            "stop" => self.way_out = Some(WayOut::Stopped("stopped before the fault was found".to_owned())),
            "refer" => self.way_out = Some(WayOut::Referred(said.to_owned())),
            "explain" => self.explained(said),
            "fit/van" if said == "no" => {
                if let Some(Goal { act: Act::Change(repair), .. }) = self.goal {
                    self.way_out = Some(WayOut::AwaitingPart(repair));
                }
            }
            _ => {}
        }
    }

    fn explained(&mut self, said: &str) {
        match said {
            "explained" => self.way_out = Some(WayOut::Explained),
            "not-reproduced" => self.way_out = Some(WayOut::NotReproduced),
            _ => {
                self.set_aside.insert("explain".to_owned());
                self.goal = None;
            }
        }
    }

    pub(super) fn drop_goal(&mut self, machine: &Machine) {
        if let Some(goal) = self.goal.take() {
            self.set_aside.insert(crate::steps::id_of(machine, &goal.act));
        }
    }

    fn isolated(&mut self, machine: &Machine, by: &str) {
        let isolator = match by {
            "plug" => Isolator::Plug,
            "disconnect" => Isolator::Disconnect,
            _ => Isolator::Breaker,
        };
        self.energy.isolate(isolator);
        let secured = if isolator == Isolator::Plug { Secured::PlugInSight } else { Secured::LockedAndTagged };
        // It was just isolated, and each isolator has the securing that fits it.
        let _ = self.energy.secure(secured);
        let of_cord = |reading: &Reading| {
            matches!(reading.probe, prediction::Probe::Around(branch)
            if machine[machine[branch].part].kind == machine::model::PartKind::Cord)
        };
        if self.clips_on.as_ref().is_some_and(|(reading, _)| of_cord(reading)) {
            self.clips_on = None;
        }
    }

    pub(super) fn energised(&mut self, machine: &Machine, why: &str) {
        self.energy.energise();
        self.dead.clear();
        self.work = None;
        self.record.retain(|fact| matches!(fact, DeadFact::Earth(_)));
        self.kept_proofs.clear();
        if let Some(id) = why.strip_prefix("to read ")
            && let Ok(Some(Act::Read(reading, _))) = act_of(machine, id)
        {
            self.clips_on = Some((reading, false));
        }
    }

    pub(super) fn made_safe(&mut self, machine: &Machine) {
        self.dead.extend(self.dead_proof(machine).ok());
        self.was_made_safe = true;
        let meter = self.record.iter().rfind(|fact| matches!(fact, DeadFact::Meter(_))).cloned();
        let earth = self.record.iter().find(|fact| matches!(fact, DeadFact::Earth(_))).cloned();
        self.record = meter.into_iter().chain(earth).collect();
        self.kept_proofs = self.kept_proofs.last().cloned().into_iter().collect();
        self.work = None;
        self.clips_on = None;
    }
}
