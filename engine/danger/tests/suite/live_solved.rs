//! The live map against solved circuits: on small generated machines every terminal that carries volts in some worst
//! case, solved here by plain nodal analysis, must be on the map, and at no milder reach than the case needed.

use crate::support::Dice;
use danger::{DEAD_LIMIT_VOLTS, Energy, Isolator, LiveMap, Origin, Reach};
use machine::Machine;
use machine::model::{Branch, Law, PartKind, TerminalId};
use std::fmt::Write;

/// A complex number, enough of one.
type C = (f64, f64);

fn mul(a: C, b: C) -> C {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}

fn inverse(a: C) -> C {
    let square = a.0 * a.0 + a.1 * a.1;
    (a.0 / square, -a.1 / square)
}

/// What is wrong in one worst case.
#[derive(Debug, Default)]
struct Worst {
    reach: usize,
    broken: Vec<bool>,
    closed: Vec<bool>,
    bridges: Vec<(TerminalId, TerminalId)>,
    /// Which conductor each slot gets instead of its own.
    swapped: Vec<usize>,
    plug_out: bool,
}

/// One machine with one or two loads, contacts and leads drawn at random.
///
/// `None` where the draw is no machine: a dead short between the legs.
fn generated(seed: u64) -> Option<Machine> {
    let mut dice = Dice::seeded(seed);
    let (kind, cord, receptacle, ends) = match dice.below(3) {
        0 => ("single-phase", "grounded", "5-15", vec!["block.L1", "block.N"]),
        1 => ("split-phase", "three-wire", "10-30", vec!["block.L1", "block.N", "block.L2"]),
        _ => ("split-phase", "four-wire", "14-30", vec!["block.L1", "block.N", "block.L2"]),
    };
    let volts = if kind == "single-phase" { 120 } else { 240 };
    let mut text = format!(
        "callwright = 1\n[machine]\nid = \"small\"\nkind = \"test\"\ntitle = \"small\"\ncurrency = \"USD\"\n\
         [plate]\nvolts = {volts}\nwatts = 1000\n[supply]\nkind = \"{kind}\"\nreceptacle = \"{receptacle}\"\n\
         cord = \"{cord}\"\nbreaker_amps = 15\nreceptacle_place = \"in\"\nblock_place = \"in\"\npanel_place = \"in\"\n\
         [[place]]\nid = \"in\"\nsay = \"in it\"\n[[state]]\nid = \"off\"\nsay = \"off\"\nset = {{ s0 = \"off\" }}\n\
         [[proof]]\nid = \"run\"\nsay = \"run\"\nrun = {{ state = \"off\" }}\n\
         [[part]]\nid = \"s0\"\nkind = \"switch\"\nname = \"switch\"\nplace = \"in\"\npositions = [\"off\", \"on\"]\n\
         contacts = [{{ from = \"1\", to = \"2\", closed_in = [\"on\"] }}]\n"
    );
    let mut terminals: Vec<String> = ends.iter().map(ToString::to_string).collect();
    terminals.extend(["s0.1".to_owned(), "s0.2".to_owned()]);
    for index in 0..1 + dice.below(3) {
        let body = match dice.below(7) {
            0 => "kind = \"fuse\"",
            1 => "kind = \"capacitor\"\nmicrofarads = 20",
            2 => "kind = \"lamp\"\nwatts = 60\nvolts = 120",
            _ => "kind = \"heater\"\nwatts = 800\nvolts = 120",
        };
        let _ = write!(text, "[[part]]\nid = \"p{index}\"\n{body}\nname = \"part {index}\"\nplace = \"in\"\n");
        terminals.extend([format!("p{index}.1"), format!("p{index}.2")]);
    }
    for index in 0..terminals.len() {
        let (from, to) = (dice.below(terminals.len()), dice.below(terminals.len()));
        if terminals[from] != terminals[to] {
            let _ = write!(
                text,
                "[[lead]]\nid = \"W{index}\"\nfrom = \"{}\"\nto = \"{}\"\n",
                terminals[from], terminals[to]
            );
        }
    }
    let mut machine = machine::read(&text).machine?;
    if dice.chance(50) {
        // An old machine whose frame no conductor ties to anything.
        let frame = machine.supply.frame;
        let tied = |branch: &Branch| branch.from == frame || branch.to == frame;
        let cut: Vec<bool> = machine.branches.iter().map(tied).collect();
        machine.supply.plug.retain(|plug| !cut[plug.index()]);
        for (branch, cut) in machine.branches.iter_mut().zip(&cut) {
            if *cut {
                branch.from = frame;
                branch.to = frame;
            }
        }
        machine.supply.block.retain(|&(_, terminal)| terminal != frame);
    }
    Some(machine)
}

/// Draws a worst case of at most the given reach.
fn worst(machine: &Machine, dice: &mut Dice, reach: usize, plug_out: bool) -> Worst {
    let kind = |branch: &Branch| machine.parts[branch.part.index()].kind;
    let slots: Vec<usize> = (0..machine.supply.slots.len()).collect();
    let mut swapped = slots.clone();
    if reach >= 1 {
        for index in (1..swapped.len()).rev() {
            swapped.swap(index, dice.below(index + 1));
        }
    }
    let frame = machine.supply.frame;
    let mut bridges = Vec::new();
    for branch in &machine.branches {
        let machine_side = !matches!(kind(branch), PartKind::House | PartKind::Breaker | PartKind::Receptacle);
        let touches = (reach >= 2 && kind(branch) == PartKind::Heater) || (reach >= 3 && machine_side);
        if touches && dice.chance(35) {
            bridges.push((if dice.chance(50) { branch.from } else { branch.to }, frame));
        }
    }
    // A bridge at a slot would stand in the wall, and not in the machine.
    bridges.retain(|(at, _)| {
        !matches!(
            machine.parts[machine.terminals[at.index()].part.index()].kind,
            PartKind::House | PartKind::Receptacle
        )
    });
    Worst {
        reach,
        broken: machine.branches.iter().map(|b| !matches!(b.law, Law::Source { .. }) && dice.chance(15)).collect(),
        closed: machine.branches.iter().map(|_| dice.chance(60)).collect(),
        bridges,
        swapped,
        plug_out,
    }
}

/// Volts of every terminal to true earth.
fn solve(machine: &Machine, case: &Worst) -> Vec<f64> {
    let size = machine.terminals.len();
    let earth = machine.supply.earth.index();
    let mut matrix = vec![vec![(0.0, 0.0); size + 1]; size];
    for (node, row) in matrix.iter_mut().enumerate() {
        // Sound insulation of a gigaohm to earth; earth itself is held.
        row[node] = (if node == earth { 1e9 } else { 1e-9 }, 0.0);
    }
    let slots: Vec<usize> = machine.supply.slots.iter().map(|(_, slot)| slot.index()).collect();
    for (index, branch) in machine.branches.iter().enumerate() {
        let id = machine::model::BranchId(u16::try_from(index).unwrap());
        let plug = machine.supply.plug.contains(&id);
        if case.broken[index] || (plug && case.plug_out) {
            continue;
        }
        let Some((admittance, source)) = element(branch, case.closed[index]) else { continue };
        let moved = |node: usize| {
            // The plug's contact finds another conductor behind its slot.
            let slot = slots.iter().position(|&slot| plug && slot == node);
            slot.map_or(node, |slot| slots[case.swapped[slot]])
        };
        stamp(&mut matrix, moved(branch.from.index()), moved(branch.to.index()), admittance, source);
    }
    for &(a, b) in &case.bridges {
        stamp(&mut matrix, a.index(), b.index(), (10.0, 0.0), (0.0, 0.0));
    }
    eliminate(matrix).iter().map(|&(re, im)| (re * re + im * im).sqrt()).collect()
}

fn element(branch: &Branch, closed: bool) -> Option<(C, C)> {
    let omega = 2.0 * std::f64::consts::PI * 60.0;
    let none = (0.0, 0.0);
    match &branch.law {
        Law::Resistance(resistance) => Some(((1.0 / resistance.hot_ohms, 0.0), none)),
        Law::Contact { ohms, .. } => closed.then_some(((1.0 / ohms, 0.0), none)),
        Law::Capacitor { farads, .. } => Some(((0.0, omega * farads), none)),
        Law::Source { volts, degrees, series_ohms, .. } => {
            let angle = degrees.to_radians();
            let y = (1.0 / series_ohms, 0.0);
            Some((y, mul(y, (volts * libm::cos(angle), volts * libm::sin(angle)))))
        }
        Law::Winding { ohms, reactance, .. } => Some((inverse((*ohms, *reactance)), none)),
        Law::Sensor { .. } => None,
    }
}

fn stamp(matrix: &mut [Vec<C>], from: usize, to: usize, y: C, source: C) {
    let size = matrix.len();
    let mut add = |row: usize, column: usize, value: C, sign: f64| {
        matrix[row][column].0 += sign * value.0;
        matrix[row][column].1 += sign * value.1;
    };
    add(from, from, y, 1.0);
    add(to, to, y, 1.0);
    add(from, to, y, -1.0);
    add(to, from, y, -1.0);
    add(from, size, source, 1.0);
    add(to, size, source, -1.0);
}

/// Gauss with partial pivoting.
fn eliminate(mut matrix: Vec<Vec<C>>) -> Vec<C> {
    let size = matrix.len();
    let norm = |a: C| a.0 * a.0 + a.1 * a.1;
    for column in 0..size {
        let pivot =
            (column..size).max_by(|&a, &b| norm(matrix[a][column]).total_cmp(&norm(matrix[b][column]))).unwrap();
        matrix.swap(column, pivot);
        let over = inverse(matrix[column][column]);
        let top = matrix[column].clone();
        for row in matrix.iter_mut().skip(column + 1) {
            let factor = mul(row[column], over);
            for (value, above) in row.iter_mut().zip(&top).skip(column) {
                let less = mul(factor, *above);
                *value = (value.0 - less.0, value.1 - less.1);
            }
        }
    }
    let mut volts = vec![(0.0, 0.0); size];
    for row in (0..size).rev() {
        let mut sum = matrix[row][size];
        for column in row + 1..size {
            let less = mul(matrix[row][column], volts[column]);
            sum = (sum.0 - less.0, sum.1 - less.1);
        }
        volts[row] = mul(sum, inverse(matrix[row][row]));
    }
    volts
}

#[test]
fn every_terminal_with_volts_in_a_worst_case_is_on_the_map_and_no_milder() {
    let reaches = [Reach::Conductors, Reach::Wiring, Reach::FrameFault, Reach::Insulation];
    let mut seen = [0_usize; 4];
    let mut machines = 0;
    for seed in 0..1200 {
        let Some(machine) = generated(seed) else { continue };
        machines += 1;
        let mut dice = Dice::seeded(seed ^ 0x5eed);
        for plug_out in [false, true] {
            let mut energy = Energy::found();
            if plug_out {
                energy.isolate(Isolator::Plug);
            }
            let map = LiveMap::of(&machine, &energy);
            for round in 0..24 {
                let case = worst(&machine, &mut dice, round % 4, plug_out);
                for (index, volts) in solve(&machine, &case).into_iter().enumerate() {
                    let id = TerminalId(u16::try_from(index).unwrap());
                    if volts <= DEAD_LIMIT_VOLTS || id == machine.supply.earth {
                        continue;
                    }
                    let name = &machine.terminals[index].name;
                    assert!(map.may_be_live(id), "seed {seed}: {name} has {volts} V and is not on the map: {case:?}");
                    let reach = map.why(id).into_iter().find(|(origin, _)| *origin == Origin::Supply).map(|(_, r)| r);
                    assert!(
                        reach.is_some_and(|reach| reach <= reaches[case.reach]),
                        "seed {seed}: {name} has {volts} V with less wrong than {reach:?}: {case:?}"
                    );
                    seen[case.reach] += usize::from(reach == Some(reaches[case.reach]));
                }
            }
        }
    }
    // Each reach is needed for some terminal, else the test would not tell them apart.
    assert!(machines > 150 && seen.iter().all(|&count| count >= 10), "{machines}, {seen:?}");
}
